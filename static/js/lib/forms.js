// @ts-check
import { newKey } from "./api.js";

/** What each form said when it was sent last, and the key that it had. @type {Map<HTMLFormElement, {said: string, key: string}>} */
const sent = new Map();

/**
 * Forms with data-once carry a key: sent twice, by a double click or after a pause without an answer, they count once.
 */
export function sendOnce() {
  document.addEventListener("submit", (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    if (form.dataset.once === undefined) return;
    const field = form.querySelector("input[name='key']") ?? form.appendChild(document.createElement("input"));
    if (!(field instanceof HTMLInputElement)) return;
    Object.assign(field, { type: "hidden", name: "key", value: "" });
    const said = `${form.action} ${[...new FormData(form)].join("&")}`;
    const before = sent.get(form);
    field.value = before?.said === said ? before.key : newKey();
    sent.set(form, { said, key: field.value });
  });
  // Whoever comes back to a page that the browser kept wants something new.
  addEventListener("pageshow", (event) => {
    if (event.persisted) sent.clear();
  });
}
