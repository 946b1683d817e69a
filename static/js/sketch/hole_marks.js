// @ts-check
const WAYS = { up: "▲", down: "▼", none: "×", "": "·" };

/**
 * Small marks under the holes of the drawing: what filling or emptying each would change. They lie over the drawing and
 * follow it; while a hand moves there are none.
 * @param {import("./page.js").Page} page
 * @returns {(marks: {hole: number, way: "up" | "down" | "none" | "", words: string}[]) => void}
 */
export function placeMarks(page) {
  const layer = document.createElement("div");
  layer.className = "hole-marks";
  layer.id = "hole-marks";
  layer.hidden = true;
  page.board.before(layer);
  /** @type {{hole: number, way: "up" | "down" | "none" | "", words: string}[]} */
  let shown = [];

  function place() {
    const room = layer.parentElement?.getBoundingClientRect();
    layer.hidden = !shown.length || page.board.classList.contains("dragging");
    layer.replaceChildren();
    if (layer.hidden || !room) return;
    for (const mark of shown) {
      const hole = page.board.querySelector(`[data-hole="${mark.hole - 1}"]`);
      if (!hole) continue;
      const at = hole.getBoundingClientRect();
      const sign = document.createElement("span");
      sign.className = "hole-mark";
      sign.dataset.way = mark.way || "same";
      sign.textContent = WAYS[mark.way];
      sign.title = `Hole ${mark.hole} ${mark.words}`;
      sign.style.left = `${at.left + at.width / 2 - room.left}px`;
      sign.style.top = `${at.bottom - room.top}px`;
      layer.append(sign);
    }
  }

  page.after.push(place);
  new ResizeObserver(place).observe(page.board);
  return (marks) => {
    shown = marks;
    place();
  };
}
