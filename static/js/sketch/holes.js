// @ts-check
import { filled } from "../lib/api.js";
import { openMenu } from "./menu.js";

const LONG_PRESS_MS = 500;
const SLOP_PX = 6; // farther than this it is a pull on the plate

/** @param {Element | EventTarget | null} at @returns {SVGElement | null} the hole, or the screw in it, at this place */
export function holeAt(at) {
  const part = at instanceof Element ? at.closest("[data-hole], [data-drag]") : null;
  return part instanceof SVGElement && part.dataset.hole !== undefined && !part.dataset.drag ? part : null;
}

/**
 * @param {import("./commits.js").Commits} commits @param {import("./page.js").Page} page
 * @param {SVGElement} hole @param {string} role
 */
export function setRole(commits, page, hole, role) {
  const { edit, field, role: old, roles } = hole.dataset;
  if (!edit || !field || role === old) return;
  if (!(roles ?? role).split(" ").includes(role)) {
    page.say(`A hole of this plate takes no ${role} screw.`);
    return;
  }
  commits.edit(filled(edit, field, role), page.view);
}

/**
 * Click or tap: next role; with Shift: the one before; long press or right-click: list of roles.
 * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits
 */
export function pressHoles(page, commits) {
  const board = page.board;
  let pressed = 0;
  let from = { x: 0, y: 0 };
  let listed = false;

  /** @param {SVGElement} hole */
  function list(hole) {
    const focusable = /** @type {SVGElement} */ (
      board.querySelector(`.handle[data-hole="${hole.dataset.hole}"]:not([data-drag])`) ?? hole
    );
    openMenu(focusable, (role) => setRole(commits, page, focusable, role));
  }

  board.addEventListener("pointerdown", (event) => {
    const hole = holeAt(event.target);
    listed = false;
    clearTimeout(pressed);
    if (!hole || event.button !== 0) return;
    from = { x: event.clientX, y: event.clientY };
    pressed = setTimeout(() => {
      listed = true;
      list(hole);
    }, LONG_PRESS_MS);
  });
  board.addEventListener("pointermove", (event) => {
    if (Math.hypot(event.clientX - from.x, event.clientY - from.y) > SLOP_PX) clearTimeout(pressed);
  });
  for (const end of ["pointerup", "pointercancel"]) board.addEventListener(end, () => clearTimeout(pressed));

  board.addEventListener("click", (event) => {
    const hole = holeAt(event.target);
    if (!hole || listed) return;
    const role = event.shiftKey ? hole.dataset.prev : hole.dataset.next;
    if (role) setRole(commits, page, hole, role);
  });
  board.addEventListener("contextmenu", (event) => {
    const hole = holeAt(event.target);
    if (!hole) return;
    event.preventDefault();
    clearTimeout(pressed);
    listed = true;
    list(hole);
  });
}
