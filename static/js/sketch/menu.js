// @ts-check
// The list of roles that a hole can take: a menu, by the keys that menus have.

/** @type {(() => void) | null} */
let close = null;

/** @param {HTMLElement} menu @param {DOMRect} box where the menu belongs */
function place(menu, box) {
  const { offsetWidth: width, offsetHeight: height } = menu;
  const left = Math.max(8, Math.min(box.left, innerWidth - width - 8));
  const below = box.bottom + 4 + height < innerHeight;
  menu.style.left = `${left}px`;
  menu.style.top = `${Math.max(8, below ? box.bottom + 4 : box.top - height - 4)}px`;
}

/**
 * @param {SVGElement} hole @param {(role: string) => void} choose
 */
export function openMenu(hole, choose) {
  close?.();
  const menu = /** @type {HTMLElement} */ (document.getElementById("role-menu"));
  const roles = (hole.dataset.roles ?? "").split(" ");
  const all = /** @type {NodeListOf<HTMLButtonElement>} */ (menu.querySelectorAll("[data-role]"));
  for (const item of all) {
    const offered = roles.includes(item.dataset.role ?? "");
    /** @type {HTMLElement} */ (item.parentElement).hidden = !offered;
    item.setAttribute("aria-checked", String(item.dataset.role === hole.dataset.role));
  }
  const items = [...all].filter((item) => roles.includes(item.dataset.role ?? ""));
  menu.setAttribute("aria-label", `Role of hole ${Number(hole.dataset.hole) + 1}`);
  menu.hidden = false;
  place(menu, hole.getBoundingClientRect());
  (items.find((item) => item.dataset.role === hole.dataset.role) ?? items[0])?.focus();

  const ended = new AbortController();
  const { signal } = ended;
  close = () => {
    ended.abort();
    menu.hidden = true;
    close = null;
  };
  const back = () => {
    close?.();
    hole.focus({ preventScroll: true });
  };

  menu.addEventListener("click", (event) => {
    const item = /** @type {Element} */ (event.target).closest("[data-role]");
    if (!(item instanceof HTMLElement)) return;
    back();
    choose(item.dataset.role ?? "");
  }, { signal });
  menu.addEventListener("keydown", (event) => {
    const at = items.indexOf(/** @type {HTMLButtonElement} */ (document.activeElement));
    const last = items.length - 1;
    const next = { ArrowDown: at === last ? 0 : at + 1, ArrowUp: at <= 0 ? last : at - 1, Home: 0, End: last }[event.key];
    if (next !== undefined) items[next].focus();
    else if (event.key === "Escape") back();
    else if (event.key === "Tab") return back();
    else return;
    event.preventDefault();
    event.stopPropagation();
  }, { signal });
  document.addEventListener("pointerdown", (event) => {
    if (!menu.contains(/** @type {Node} */ (event.target))) close?.();
  }, { signal, capture: true });
  addEventListener("resize", () => close?.(), { signal });
}
