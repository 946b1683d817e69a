// @ts-check
// Hovering or focusing a warning (or a row) marks what it speaks of in the drawing, and the other way round.

/** @param {EventTarget | null} at @returns {string[]} names of the parts meant */
function partsAt(at) {
  const part = at instanceof Element ? at.closest("[data-part], [data-parts]") : null;
  const names = part?.getAttribute("data-parts") ?? part?.getAttribute("data-part") ?? "";
  return names.split(" ").filter(Boolean);
}

/** @param {import("./page.js").Page} page */
export function markWhatIsMeant(page) {
  /** @type {string[]} */
  let pointed = [];
  /** @type {string[]} */
  let focused = [];

  function show() {
    const meant = new Set([...pointed, ...focused]);
    for (const part of document.querySelectorAll("#board [data-part]")) {
      part.classList.toggle("pointed", meant.has(part.getAttribute("data-part") ?? ""));
    }
    for (const told of document.querySelectorAll("[data-parts]")) {
      const names = (told.getAttribute("data-parts") ?? "").split(" ");
      told.classList.toggle("marked", names.some((name) => meant.has(name)));
    }
  }

  document.addEventListener("pointerover", (event) => {
    if (page.board.classList.contains("dragging")) return;
    pointed = partsAt(event.target);
    show();
  });
  document.addEventListener("focusin", (event) => {
    focused = partsAt(event.target);
    show();
  });
  document.addEventListener("focusout", () => {
    focused = [];
    show();
  });
  page.after.push(show);
}
