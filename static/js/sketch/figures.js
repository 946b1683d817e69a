// @ts-check
// Figures that just changed say so for a moment.

const FLASH_MS = 1200;

/** @param {ParentNode} root @returns {Map<string, string>} text of every figure by id */
export function textsOf(root) {
  const found = /** @type {NodeListOf<HTMLElement>} */ (root.querySelectorAll("[data-figure]"));
  return new Map([...found].map((figure) => [figure.id, figure.dataset.figure ?? ""]));
}

/** @param {ParentNode} root @param {Map<string, string>} before */
export function flashChanged(root, before) {
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  const colour = getComputedStyle(document.documentElement).getPropertyValue("--flash").trim() || "#ffe08a";
  for (const [id, text] of textsOf(root)) {
    if (!before.has(id) || before.get(id) === text) continue;
    const figure = document.getElementById(id);
    // A steady mark that goes away at once is no motion; a fade is.
    const frames = still
      ? [{ backgroundColor: colour }, { backgroundColor: colour }]
      : [{ backgroundColor: colour }, { backgroundColor: colour, offset: 0.4 }, { backgroundColor: "transparent" }];
    figure?.animate(frames, { duration: FLASH_MS });
  }
}
