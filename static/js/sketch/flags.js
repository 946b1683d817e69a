// @ts-check
import { byId } from "./page.js";

/** @param {EventTarget | null} at @returns {SVGElement | null} the warning's mark at this place */
export function flagAt(at) {
  const flag = at instanceof Element ? at.closest("[data-flag]") : null;
  return flag instanceof SVGElement ? flag : null;
}

/**
 * A mark that is pressed opens its warning and marks it; it never changes the case.
 * @param {import("./page.js").Page} page @param {(name: string) => void} openPanel
 */
export function openWarnings(page, openPanel) {
  page.board.addEventListener("click", (event) => {
    const part = flagAt(event.target)?.dataset.flag;
    if (!part) return;
    const found = byId("panel-warnings").querySelector(`#warning-list > [data-parts~="${part}"]`);
    const why = found?.querySelector("details");
    if (!found || !why) return;
    openPanel("at-hand");
    why.open = true;
    why.querySelector("summary")?.focus({ preventScroll: true });
    found.scrollIntoView({ block: "nearest" });
  });
}
