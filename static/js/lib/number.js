// @ts-check

/** @param {string} text @returns {number | null} the number, with a point or a comma for the decimals; null: it is none */
export function numberIn(text) {
  const plain = text.trim().replace("−", "-").replace(",", ".");
  return /^[+-]?(\d+(\.\d*)?|\.\d+)$/.test(plain) ? Number(plain) : null;
}

/** @param {HTMLInputElement} field one for numbers @returns {[number, number]} the least and the most that it takes */
function boundsOf(field) {
  return [Number(field.getAttribute("aria-valuemin")), Number(field.getAttribute("aria-valuemax"))];
}

/** @param {HTMLInputElement} field one for numbers @returns {string} what it takes, in words */
export function rangeOf(field) {
  const name = field.getAttribute("aria-label") ?? field.labels?.[0]?.textContent ?? "This";
  const [low, high] = boundsOf(field);
  return `${name} takes a number from ${low} to ${high}${field.dataset.unit ? ` ${field.dataset.unit}` : ""}, such as 12.5 or 12,5.`;
}

/** @param {HTMLInputElement} field @returns {number | null} its number, if it lies in the field's range */
export function numberOf(field) {
  const value = numberIn(field.value);
  const [low, high] = boundsOf(field);
  return value === null || value < low || value > high ? null : value;
}

/** Arrow keys change a number by one, with Shift by ten. */
export function stepNumbers() {
  document.addEventListener("keydown", (event) => {
    const by = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    const field = event.target;
    if (!by || !(field instanceof HTMLInputElement) || field.dataset.number === undefined) return;
    event.preventDefault();
    const [low, high] = boundsOf(field);
    const wanted = (numberIn(field.value) ?? low) + by * (event.shiftKey ? 10 : 1);
    field.value = String(Number(Math.min(high, Math.max(low, wanted)).toFixed(4)));
    field.setAttribute("aria-valuenow", field.value);
    field.dispatchEvent(new Event("input", { bubbles: true }));
    field.dispatchEvent(new Event("change", { bubbles: true }));
  });
}
