// @ts-check
import { frameKey } from "./frame.js";
import { Gesture } from "./gesture.js";
import { holeAt, nextRole, setRole } from "./holes.js";
import { byId } from "./page.js";

const ROLES = /** @type {{[key: string]: string}} */ ({
  n: "neutral", e: "eccentric", l: "lag", 2: "locking-2", 1: "locking-1", 0: "empty", Delete: "empty", Backspace: "empty",
});
const PAUSE_MS = 500;
const LETTERS_KEY = "fishplate-letters";

/** @returns {boolean} whether single characters act as keys; people who dictate switch them off */
function lettersOn() {
  try {
    return localStorage.getItem(LETTERS_KEY) !== "off";
  } catch {
    return true;
  }
}

/** @param {EventTarget | null} at */
function isTyping(at) {
  return at instanceof HTMLElement && at.matches("input, textarea, select");
}

/**
 * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits
 * @param {(key: string) => boolean} panelKey opens the panel that the key stands for, if it stands for one
 */
export function listenToKeys(page, commits, panelKey) {
  const board = page.board;
  let current = 0;
  /** @type {Gesture | null} */
  let gesture = null;
  let pause = 0;

  /** @returns {SVGElement[]} */
  const holes = () => [.../** @type {NodeListOf<SVGElement>} */ (board.querySelectorAll(".handle[data-hole][role=button]"))];

  /** One tab stop for all the holes: the last one used. */
  function setTabStops() {
    const all = holes();
    current = Math.min(current, all.length - 1);
    all.forEach((hole, i) => hole.setAttribute("tabindex", i === current ? "0" : "-1"));
  }

  /** @param {number} index */
  function goTo(index) {
    const all = holes();
    current = Math.max(0, Math.min(all.length - 1, index));
    setTabStops();
    all[current]?.focus();
  }

  /** @param {KeyboardEvent} event @param {SVGElement} hole @returns {boolean} */
  function holeKey(event, hole) {
    const at = holes().indexOf(hole);
    const go = { ArrowLeft: at - 1, ArrowRight: at + 1, Home: 0, End: holes().length - 1 }[event.key];
    if (go !== undefined) goTo(go);
    else if (event.key === "Enter" || event.key === " ") {
      const role = nextRole(commits, hole, event.shiftKey);
      if (role) setRole(commits, page, hole, role);
    } else if (event.key.length === 1 && !lettersOn()) return false;
    else if (event.key.toLowerCase() === "t") tiltOf(hole)?.focus();
    else if ((ROLES[event.key] ?? ROLES[event.key.toLowerCase()]) !== undefined) {
      setRole(commits, page, hole, ROLES[event.key] ?? ROLES[event.key.toLowerCase()]);
    } else return false;
    return true;
  }

  /** @param {SVGElement} hole @returns {SVGElement | null} */
  function tiltOf(hole) {
    return board.querySelector(`.handle[data-drag][data-of-hole="${hole.dataset.hole}"]`);
  }

  function finish() {
    clearTimeout(pause);
    const done = gesture;
    gesture = null;
    done?.finish();
  }

  /** @param {KeyboardEvent} event @param {SVGElement} grip @returns {boolean} */
  function gripKey(event, grip) {
    if (event.key === "Escape") {
      if (gesture) {
        clearTimeout(pause);
        gesture.cancel();
        gesture = null;
      } else leaveTilt(grip);
      return true;
    }
    const sign = { ArrowRight: 1, ArrowUp: 1, PageUp: 10, ArrowLeft: -1, ArrowDown: -1, PageDown: -10 }[event.key];
    if (sign === undefined && event.key !== "Home" && event.key !== "End") return false;
    if (gesture && gesture.id !== grip.id) finish();
    gesture ??= new Gesture(page, commits, grip);
    const now = gesture.value;
    const by = (sign ?? 0) * (event.shiftKey && Math.abs(sign ?? 0) === 1 ? 10 : 1);
    gesture.set(event.key === "Home" ? gesture.min : event.key === "End" ? gesture.max : now + by);
    clearTimeout(pause);
    pause = setTimeout(finish, PAUSE_MS);
    return true;
  }

  /** @param {SVGElement} grip */
  function leaveTilt(grip) {
    if (grip.dataset.ofHole !== undefined) goTo(Number(grip.dataset.ofHole));
  }

  board.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const part = /** @type {Element} */ (event.target).closest(".handle");
    if (!(part instanceof SVGElement)) return;
    const done = part.dataset.drag ? gripKey(event, part) : holeAt(part) !== null && holeKey(event, part);
    if (done) event.preventDefault();
  });
  board.addEventListener("focusin", (event) => {
    const at = holes().indexOf(/** @type {SVGElement} */ (event.target));
    if (at >= 0 && at !== current) {
      current = at;
      setTabStops();
    }
  });
  board.addEventListener("focusout", () => gesture && finish());
  addEventListener("pagehide", () => gesture && finish());
  document.addEventListener("keydown", (event) => {
    if (isTyping(event.target) || event.defaultPrevented) return;
    const key = event.key.toLowerCase();
    if ((event.ctrlKey || event.metaKey) && (key === "z" || key === "y")) {
      event.preventDefault();
      finish();
      commits.history(key === "y" || event.shiftKey ? "redo" : "undo");
    } else if (event.ctrlKey || event.metaKey || event.altKey || !lettersOn()) {
      return;
    } else if (event.key === "?") showDialog("help");
    else if (key === "s") showDialog("signs");
    else if (frameKey(page, event.key) || panelKey(event.key)) event.preventDefault();
  });
  byId("help-button").addEventListener("click", () => showDialog("help"));
  byId("signs-button").addEventListener("click", () => showDialog("signs"));
  const letters = /** @type {HTMLInputElement} */ (byId("letters"));
  letters.checked = lettersOn();
  letters.addEventListener("change", () => localStorage.setItem(LETTERS_KEY, letters.checked ? "on" : "off"));
  page.after.push(setTabStops);
  setTabStops();
}

/** @param {string} id */
function showDialog(id) {
  const dialog = /** @type {HTMLDialogElement} */ (byId(id));
  if (!dialog.open) dialog.showModal();
}
