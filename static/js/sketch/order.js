// @ts-check
import { filled } from "../lib/api.js";
import { byId } from "./page.js";

const EDGE_PX = 48;
const SCROLL_PX = 14;

/** @returns {string[]} the order as the panel shows it */
function shownOrder() {
  return (byId("step-list").dataset.order ?? "").split(" ").filter(Boolean);
}

/** @param {string[]} order @param {string} screw @param {number} place @returns {string[]} */
function moved(order, screw, place) {
  const rest = order.filter((name) => name !== screw);
  const at = Math.max(0, Math.min(rest.length, place));
  return [...rest.slice(0, at), screw, ...rest.slice(at)];
}

/**
 * The order of the screws, changed by arrows, by Alt with an arrow, or by pulling a step elsewhere.
 * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits
 */
export function orderScrews(page, commits) {
  const panel = byId("panel-order");
  /** @type {string[] | null} the order asked for, until it is written: quick moves add up */
  let wanted = null;
  let focusOn = "";
  /** @type {{screw: string, pointer: number, before: string | null} | null} `before` null: at the end */
  let held = null;

  /** @param {string[]} order */
  function set(order) {
    const now = wanted ?? shownOrder();
    if (order.join() === now.join()) return;
    wanted = order;
    const { edit, field } = byId("step-list").dataset;
    if (edit && field) commits.edit(filled(edit, field, order), page.view);
  }

  /** @param {string} screw @param {number} by @param {string} button id of the button that keeps the focus */
  function move(screw, by, button) {
    focusOn = button;
    const now = wanted ?? shownOrder();
    set(moved(now, screw, now.indexOf(screw) + by));
  }

  panel.addEventListener("click", (event) => {
    const button = /** @type {Element} */ (event.target).closest("button[data-move]");
    const screw = button?.closest("[data-screw]")?.getAttribute("data-screw");
    if (button && screw) move(screw, button.getAttribute("data-move") === "up" ? -1 : 1, button.id);
  });
  panel.addEventListener("keydown", (event) => {
    const by = { ArrowUp: -1, ArrowDown: 1 }[event.key];
    if (!event.altKey || by === undefined) return;
    const at = /** @type {Element} */ (event.target);
    const screw = at.closest("[data-screw]")?.getAttribute("data-screw");
    if (!screw) return;
    event.preventDefault();
    move(screw, by, at.id || `${by < 0 ? "up" : "down"}-${screw}`);
  });

  page.after.push(() => {
    if (commits.queue.length <= 1) wanted = null;
    if (!focusOn) return;
    const button = document.getElementById(focusOn);
    if (document.activeElement === panel || document.activeElement === document.body) button?.focus({ preventScroll: true });
    if (!wanted) focusOn = "";
    button?.scrollIntoView({ block: "nearest" });
  });

  /** @returns {HTMLElement[]} */
  const rows = () => [.../** @type {NodeListOf<HTMLElement>} */ (panel.querySelectorAll("li[data-screw]"))];

  /** Say where the pulled step would go. @param {number} y height of the pointer in the window */
  function aim(y) {
    if (!held) return;
    const others = rows().filter((row) => row.dataset.screw !== held?.screw);
    const next = others.find((row) => {
      const box = row.getBoundingClientRect();
      return y < box.top + box.height / 2;
    });
    held.before = next?.dataset.screw ?? null;
    for (const row of rows()) {
      row.classList.toggle("pulled", row.dataset.screw === held.screw);
      row.classList.toggle("drop-before", row === next);
      row.classList.toggle("drop-after", !next && row === others.at(-1));
    }
    if (y < EDGE_PX) scrollBy(0, -SCROLL_PX);
    else if (y > innerHeight - EDGE_PX) scrollBy(0, SCROLL_PX);
  }

  /** @param {boolean} keep */
  function letGo(keep) {
    if (!held) return;
    const { screw, before, pointer } = held;
    held = null;
    if (panel.hasPointerCapture(pointer)) panel.releasePointerCapture(pointer);
    for (const row of rows()) row.classList.remove("pulled", "drop-before", "drop-after");
    if (!keep) return;
    const rest = (wanted ?? shownOrder()).filter((name) => name !== screw);
    set(moved(rest, screw, before === null ? rest.length : rest.indexOf(before)));
  }

  panel.addEventListener("pointerdown", (event) => {
    const grip = /** @type {Element} */ (event.target).closest("[data-grip]");
    const screw = grip?.closest("[data-screw]")?.getAttribute("data-screw");
    if (held || !screw || event.button !== 0) return;
    event.preventDefault();
    held = { screw, pointer: event.pointerId, before: null };
    panel.setPointerCapture(event.pointerId);
    aim(event.clientY);
  });
  panel.addEventListener("pointermove", (event) => {
    if (held && event.pointerId === held.pointer) aim(event.clientY);
  });
  panel.addEventListener("pointerup", (event) => {
    if (held && event.pointerId === held.pointer) letGo(true);
  });
  panel.addEventListener("pointercancel", () => letGo(false));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && held) letGo(false);
  });
}
