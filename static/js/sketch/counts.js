// @ts-check
import { byId } from "./page.js";

/**
 * How many stops and cautions there are, in the tab that leads to them: on a small screen the tabs alone are always in
 * sight. The words are with the warnings, and the announcement says them.
 */
export function countInTab() {
  const place = byId("tab-counts");

  function show() {
    const counts = [...document.querySelectorAll("#warning-counts .count:not(.zero):not(.level-note)")];
    place.replaceChildren(
      ...counts.map((count) => {
        const copy = document.createElement("span");
        copy.className = count.className;
        const mark = count.querySelector("svg")?.cloneNode(true);
        copy.append(...(mark ? [mark] : []), count.textContent?.trim().split(/\s/)[0] ?? "");
        return copy;
      }),
    );
  }

  new MutationObserver(show).observe(byId("panel-warnings"), { childList: true, subtree: true, characterData: true });
  show();
}
