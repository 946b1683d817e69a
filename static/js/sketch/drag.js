// @ts-check
import { flagAt } from "./flags.js";
import { Gesture } from "./gesture.js";

const SLOP_PX = 3;
const HOLE_SLOP_PX = 6;

/** @param {SVGSVGElement} svg @returns {DOMMatrix} from the screen's pixels to the drawing's mm */
function toDrawing(svg) {
  return DOMMatrix.fromMatrix(svg.getScreenCTM()?.inverse());
}

/** @param {DOMMatrix} matrix @param {PointerEvent} event @returns {DOMPoint} the pointer in the drawing's mm */
function inDrawing(matrix, event) {
  return new DOMPoint(event.clientX, event.clientY).matrixTransform(matrix);
}

/** @param {DOMStringMap} data @param {DOMPoint} at @returns {number} the lean in degrees from the vertical */
function lean(data, at) {
  const [x, y] = (data.pivot ?? "0,0").split(",").map(Number);
  const [dx, dy] = [at.x - x, at.y - y];
  const angle = data.lean === "down" ? Math.atan2(dx, dy) : Math.atan2(-dx, -dy);
  return (angle * 180) / Math.PI;
}

/**
 * Dragging. Listeners and pointer capture are the board's, which stays, not the shape's, which is redrawn.
 * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits
 */
export function dragHandles(page, commits) {
  const board = page.board;
  /** @type {{pointer: number, handle: SVGElement, slop: number, start: DOMPoint, x: number, y: number,
   *   gesture: Gesture | null, offset: number, matrix: DOMMatrix} | null} */
  let held = null;

  board.addEventListener("pointerdown", (event) => {
    const target = /** @type {Element} */ (event.target).closest("[data-drag], [data-hole]");
    if (held || event.button !== 0 || !(target instanceof SVGElement) || flagAt(event.target)) return;
    const grip = Boolean(target.dataset.drag);
    // Holes cover the plate: pressed they change their role, pulled they take the plate along.
    const handle = grip ? target : board.querySelector("#plate[data-drag]");
    if (!(handle instanceof SVGElement)) return;
    const slop = grip ? SLOP_PX : HOLE_SLOP_PX;
    const matrix = toDrawing(page.svg);
    const [x, y, start] = [event.clientX, event.clientY, inDrawing(matrix, event)];
    held = { pointer: event.pointerId, handle, slop, start, x, y, gesture: null, offset: 0, matrix };
    page.live.open();
    if (!grip) return;
    board.setPointerCapture(event.pointerId);
    target.focus(/** @type {FocusOptions} */ ({ preventScroll: true, focusVisible: false })); // the hand knows what it holds
    event.preventDefault();
  });

  board.addEventListener("pointermove", (event) => {
    if (!held || event.pointerId !== held.pointer) return;
    if (!event.buttons) return release(false);
    const far = Math.hypot(event.clientX - held.x, event.clientY - held.y) > held.slop;
    if (!held.gesture && !far) return;
    if (!held.gesture) {
      board.setPointerCapture(event.pointerId);
      held.gesture = new Gesture(page, commits, held.handle);
      held.offset = held.gesture.from - lean(held.handle.dataset, held.start);
    }
    held.matrix = toDrawing(page.svg); // the page may have been scrolled meanwhile
    aim(event);
  });

  // Browsers hold moves back until the next frame; those that also tell of them at once get their picture sooner.
  board.addEventListener("pointerrawupdate", (event) => {
    if (held?.gesture && /** @type {PointerEvent} */ (event).pointerId === held.pointer) aim(/** @type {PointerEvent} */ (event));
  });

  /** @param {PointerEvent} event */
  function aim(event) {
    if (!held?.gesture) return;
    const at = inDrawing(held.matrix, event);
    const data = held.handle.dataset;
    const gain = Number(data.gain) || 1;
    // A grip is seldom taken exactly in its middle: the angle follows the pointer from where it was taken.
    const value = data.drag === "lean" ? lean(data, at) + held.offset : held.gesture.from + (at.x - held.start.x) * gain;
    held.gesture.aim(value);
  }

  /** @param {boolean} keep */
  function release(keep) {
    if (!held) return;
    const { gesture, pointer } = held;
    held = null;
    if (board.hasPointerCapture(pointer)) board.releasePointerCapture(pointer);
    if (keep) gesture?.finish();
    else gesture?.cancel();
  }

  board.addEventListener("pointerup", (event) => {
    if (held && event.pointerId === held.pointer) {
      aim(event);
      release(true);
    }
  });
  board.addEventListener("pinch", () => release(false)); // a second finger wants to look closer
  board.addEventListener("pointercancel", (event) => {
    if (held && event.pointerId === held.pointer) release(false);
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && held) {
      event.preventDefault();
      release(false);
    }
  });
}
