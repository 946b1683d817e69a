// @ts-check
import { filled } from "../lib/api.js";
import { flagAt } from "./flags.js";
import { openMenu } from "./menu.js";

const LONG_PRESS_MS = 500;
const SLOP_PX = 6; // farther than this it is a pull on the plate

/** @param {Element | EventTarget | null} at @returns {SVGElement | null} the hole, or the screw in it, at this place */
export function holeAt(at) {
  if (flagAt(at)) return null;
  const part = at instanceof Element ? at.closest("[data-hole], [data-drag]") : null;
  return part instanceof SVGElement && part.dataset.hole !== undefined && !part.dataset.drag ? part : null;
}

/**
 * The role that a hole has as soon as all is written: taps are faster than answers, and each of them counts.
 * @param {import("./commits.js").Commits} commits @param {SVGElement} hole @returns {string}
 */
function roleOf(commits, hole) {
  const { edit: template = "{}", field = "", role = "" } = hole.dataset;
  const same = (/** @type {import("../lib/api.js").Edit | null} */ edit) =>
    edit?.[field] !== undefined && JSON.stringify(filled(template, field, edit[field])) === JSON.stringify(edit);
  return commits.queue.map((one) => one.edit).filter(same).at(-1)?.[field] ?? role;
}

/**
 * The role that comes next, or came before.
 * @param {import("./commits.js").Commits} commits @param {SVGElement} hole @param {boolean} back @returns {string | undefined}
 */
export function nextRole(commits, hole, back) {
  const roles = (hole.dataset.roles ?? "").split(" ").filter(Boolean);
  const at = roles.indexOf(roleOf(commits, hole));
  if (at < 0) return back ? hole.dataset.prev : hole.dataset.next;
  return roles[(at + (back ? roles.length - 1 : 1)) % roles.length];
}

/**
 * @param {import("./commits.js").Commits} commits @param {import("./page.js").Page} page
 * @param {SVGElement} hole @param {string} role
 */
export function setRole(commits, page, hole, role) {
  const { edit, field, roles } = hole.dataset;
  if (!edit || !field || role === roleOf(commits, hole)) return;
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
  for (const end of ["pointerup", "pointercancel", "pinch"]) board.addEventListener(end, () => clearTimeout(pressed));

  board.addEventListener("click", (event) => {
    const hole = holeAt(event.target);
    if (!hole || listed) return;
    const role = nextRole(commits, hole, event.shiftKey);
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
