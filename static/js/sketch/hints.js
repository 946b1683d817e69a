// @ts-check
import { byId } from "./page.js";

const KEY = "fishplate-hints";
const AWAY_MS = 1500;

/** @returns {string[]} which are done already; all of them for who has put the line away */
function kept() {
  try {
    return (localStorage.getItem(KEY) ?? "").split(" ").filter(Boolean);
  } catch {
    return [];
  }
}

/**
 * The four things to try first, in a line that ticks them off and goes when all are done.
 * @param {import("./page.js").Page} page
 */
export function showHints(page) {
  const line = byId("hints");
  const hints = /** @type {HTMLElement[]} */ ([...line.querySelectorAll("[data-hint]")]);
  const done = new Set(kept());
  if (hints.every((hint) => done.has(String(hint.dataset.hint)))) return;

  function keep() {
    try {
      localStorage.setItem(KEY, [...done].join(" "));
    } catch {
      // Storage may be refused; then they come again.
    }
  }

  function show() {
    for (const hint of hints) hint.classList.toggle("done", done.has(String(hint.dataset.hint)));
  }

  /** @param {string} name */
  function tick(name) {
    if (done.has(name)) return;
    done.add(name);
    keep();
    show();
    if (hints.every((hint) => done.has(String(hint.dataset.hint)))) setTimeout(() => (line.hidden = true), AWAY_MS);
  }

  line.hidden = false;
  show();
  byId("hints-away").addEventListener("click", () => {
    for (const hint of hints) done.add(String(hint.dataset.hint));
    keep();
    line.hidden = true;
    byId("status").focus(); // what had the focus is gone
  });
  new MutationObserver(() => page.board.classList.contains("dragging") && tick("drag")).observe(page.board, {
    attributeFilter: ["class"],
  });
  page.board.addEventListener("click", (event) => {
    if (/** @type {Element} */ (event.target).closest("[data-hole]")) tick("tap");
  });
  page.board.addEventListener("keydown", (event) => {
    const key = /** @type {KeyboardEvent} */ (event).key;
    if (/** @type {Element} */ (event.target).closest("[data-hole]") && (key === "Enter" || key === " ")) tick("tap");
  });
  byId("panel-warnings").addEventListener("toggle", () => tick("read"), true);
  byId("stepper").addEventListener("input", () => tick("step"));
  byId("stepper").addEventListener("click", (event) => {
    if (/** @type {Element} */ (event.target).closest("button")) tick("step");
  });
}
