// @ts-check
// Changes the tree to look like a new one while nodes stay, and with them focus, open details and half-typed text.

/** Attributes that belong to the user, not to the server. */
const OURS = new Set(["open", "data-shown", "data-dirty"]);

/** @param {Element} node @returns {string} what tells it from its siblings, empty if nothing does */
function keyOf(node) {
  return node.id || node.getAttribute("data-key") || "";
}

/** @param {Element} old @param {Element} fresh */
function patchAttributes(old, fresh) {
  for (const { name } of [...old.attributes]) {
    if (!fresh.hasAttribute(name) && !OURS.has(name)) old.removeAttribute(name);
  }
  // Which of the holes is the tab stop is the keyboard's affair.
  const holds = old.hasAttribute("data-hole") ? "tabindex" : "";
  for (const { name, value } of fresh.attributes) {
    if (old.getAttribute(name) !== value && !OURS.has(name) && name !== holds) old.setAttribute(name, value);
  }
}

/** @param {Element} old @returns {boolean} whether the user is writing in it */
function beingEdited(old) {
  return old === document.activeElement && old.hasAttribute("data-dirty");
}

/** @param {Element} old @param {Element} fresh */
function patchValue(old, fresh) {
  if (old instanceof HTMLInputElement && fresh instanceof HTMLInputElement) {
    if (!beingEdited(old) && old.value !== fresh.defaultValue) old.value = fresh.defaultValue;
  } else if (old instanceof HTMLTextAreaElement && fresh instanceof HTMLTextAreaElement) {
    if (!beingEdited(old) && old.value !== fresh.defaultValue) old.value = fresh.defaultValue;
  } else if (old instanceof HTMLSelectElement && fresh instanceof HTMLSelectElement) {
    if (old.value !== fresh.value) old.value = fresh.value;
  }
}

/** @param {Node} old @param {Node} fresh @returns {boolean} whether the one can become the other */
function alike(old, fresh) {
  if (old.nodeType !== fresh.nodeType || old.nodeName !== fresh.nodeName) return false;
  return !(old instanceof Element) || keyOf(old) === keyOf(/** @type {Element} */ (fresh));
}

/** @param {Element} parent @param {Element | DocumentFragment} fresh */
function patchChildren(parent, fresh) {
  /** @type {Map<string, Element>} */
  const keyed = new Map();
  for (const child of parent.children) if (keyOf(child)) keyed.set(keyOf(child), child);
  const kept = new Set([...fresh.children].map(keyOf).filter(Boolean));
  let place = parent.firstChild;
  for (const next of [...fresh.childNodes]) {
    const key = next instanceof Element ? keyOf(next) : "";
    // What is gone from the new tree goes first, so that the rest needs no moving: moving a node takes its focus away.
    while (key && place instanceof Element && keyOf(place) && !kept.has(keyOf(place))) {
      const gone = place;
      place = place.nextSibling;
      gone.remove();
    }
    const known = key ? keyed.get(key) : undefined;
    if (known && known.nodeName === next.nodeName && known.parentNode === parent) {
      if (known === place) place = place.nextSibling;
      else parent.insertBefore(known, place);
      keyed.delete(key);
      patch(known, /** @type {Element} */ (next));
    } else if (!key && place && alike(place, next)) {
      const here = place;
      place = place.nextSibling;
      patch(here, next);
    } else {
      parent.insertBefore(document.importNode(next, true), place);
    }
  }
  while (place) {
    const gone = place;
    place = place.nextSibling;
    gone.remove();
  }
}

/**
 * Make `old` look like `fresh`.
 * @param {Node} old @param {Node} fresh
 */
export function patch(old, fresh) {
  if (old instanceof Element && fresh instanceof Element) {
    if (old.isEqualNode(fresh)) return showDefaults(old);
    patchAttributes(old, fresh);
    patchChildren(old, fresh);
    patchValue(old, fresh);
  } else if (old.nodeValue !== fresh.nodeValue) {
    old.nodeValue = fresh.nodeValue;
  }
}

/**
 * A part that is equal in its attributes may still show what the user chose and the server refused.
 * @param {Element} part
 */
function showDefaults(part) {
  if (!(part instanceof HTMLElement)) return;
  const fields = part.matches("input, select") ? [part] : part.querySelectorAll("input, select");
  for (const field of fields) {
    if (beingEdited(field)) continue;
    if (field instanceof HTMLInputElement) {
      if (field.value !== field.defaultValue) field.value = field.defaultValue;
    } else if (field instanceof HTMLSelectElement) {
      const chosen = [...field.options].findIndex((option) => option.defaultSelected);
      field.selectedIndex = Math.max(0, chosen);
    }
  }
}

/**
 * Patch the children of a host from HTML.
 * @param {Element} host @param {string} html
 */
export function patchHtml(host, html) {
  const fresh = document.createElement("template");
  fresh.innerHTML = html;
  patchChildren(host, fresh.content);
}

/** @typedef {{lines: string[], nodes: (Element | null)[]}} Drawn the text last shown, and the node that each line began */

/** @type {WeakMap<Element, Drawn>} */
const drawings = new WeakMap();

/** @param {string} line @returns {string} the tag that it opens and leaves open, empty if it does not */
function opened(line) {
  const whole = line.endsWith("/>") || line.includes("</");
  return whole ? "" : (/^<([a-z]+)/.exec(line)?.[1] ?? "");
}

/**
 * The nodes that the lines of a drawing stand for; none where the two do not fit together.
 * @param {Element} root @param {string[]} lines @returns {(Element | null)[]}
 */
function nodesOf(root, lines) {
  /** @type {Element[]} */
  const around = [];
  /** @type {Element | null} */
  let next = root;
  return lines.map((line) => {
    if (line.startsWith("</")) {
      next = around.pop()?.nextElementSibling ?? null;
      return null;
    }
    const node = next;
    if (!node || !line.startsWith(`<${node.localName}`)) return null;
    if (opened(line)) around.push(node);
    next = opened(line) ? node.firstElementChild : node.nextElementSibling;
    return node;
  });
}

/**
 * Patch those parts of a drawing whose line is another than last time.
 * @param {Drawn} drawn @param {string[]} lines @returns {boolean} whether that was possible
 */
function patchLines(drawn, lines) {
  if (lines.length !== drawn.lines.length) return false;
  // What a drag has moved by itself is no longer what its line says, even if the line is the same.
  const stale = (/** @type {number} */ i) => lines[i] !== drawn.lines[i] || drawn.nodes[i]?.hasAttribute("data-moved");
  const changed = [...lines.keys()].filter(stale);
  const host = document.createElement("template");
  host.innerHTML = `<svg>${changed.map((i) => (opened(lines[i]) ? `${lines[i]}</${opened(lines[i])}>` : lines[i])).join("")}</svg>`;
  const fresh = [...(host.content.firstElementChild?.children ?? [])];
  const old = changed.map((i) => drawn.nodes[i]);
  if (fresh.length !== old.length || !old.every((node, k) => node?.isConnected && alike(node, fresh[k]))) return false;
  changed.forEach((i, k) => {
    const node = /** @type {Element} */ (old[k]);
    if (opened(lines[i])) patchAttributes(node, fresh[k]);
    else patch(node, fresh[k]);
  });
  drawn.lines = lines;
  return true;
}

/**
 * Patch a drawing from a whole svg element. The HTML parser knows it, and takes a third of the XML
 * parser's time; and since each part stands on a line of its own, only parts that are new are parsed at all.
 * @param {Element} old @param {string | string[]} svg the text, or its lines
 */
export function patchSvg(old, svg) {
  const lines = typeof svg === "string" ? svg.split("\n") : svg;
  const drawn = drawings.get(old);
  if (drawn && patchLines(drawn, lines)) return;
  const fresh = document.createElement("template");
  fresh.innerHTML = lines.join("\n");
  const drawing = fresh.content.querySelector("svg");
  if (!drawing) return;
  patch(old, drawing);
  drawings.set(old, { lines, nodes: nodesOf(old, lines) });
}
