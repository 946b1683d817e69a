// @ts-check
const REST_MS = 8000;
const SWIPE_PX = 60;

/**
 * Buttons for mouse and touch that come when something moves, and go when nothing does; a finger drawn sideways
 * over the picture steps.
 * @param {HTMLElement} hand the buttons
 * @param {(name: string) => void} act
 * @returns {() => void} call to bring them
 */
export function handAppears(hand, act) {
  let rest = 0;

  function appear() {
    hand.classList.remove("rest");
    clearTimeout(rest);
    rest = setTimeout(() => {
      // What the keyboard is on must stay in sight.
      if (hand.querySelector(":focus-visible")) appear();
      else hand.classList.add("rest");
    }, REST_MS);
  }

  hand.addEventListener("click", (event) => {
    const button = /** @type {Element} */ (event.target).closest("[data-do]");
    if (button instanceof HTMLElement) act(String(button.dataset.do));
    appear();
  });
  for (const kind of ["pointermove", "pointerdown", "focusin"]) document.addEventListener(kind, appear);
  swipes(act);
  appear();
  return appear;
}

/** @param {(name: string) => void} act */
function swipes(act) {
  const picture = document.getElementById("picture");
  if (!picture) return;
  /** @type {{id: number, x: number, y: number} | null} */
  let begun = null;
  let fingers = 0;
  picture.addEventListener("pointerdown", (event) => {
    if (event.pointerType !== "touch") return;
    fingers += 1;
    begun = fingers === 1 ? { id: event.pointerId, x: event.clientX, y: event.clientY } : null;
  });
  picture.addEventListener("pointerup", (event) => {
    if (!begun || begun.id !== event.pointerId) return;
    const [dx, dy] = [event.clientX - begun.x, event.clientY - begun.y];
    if (Math.abs(dx) >= SWIPE_PX && Math.abs(dx) > 2 * Math.abs(dy)) act(dx < 0 ? "step-on" : "step-back");
  });
  for (const kind of ["pointerup", "pointercancel"]) {
    document.addEventListener(kind, (event) => {
      if (/** @type {PointerEvent} */ (event).pointerType !== "touch") return;
      fingers = Math.max(0, fingers - 1);
      begun = null;
    });
  }
}
