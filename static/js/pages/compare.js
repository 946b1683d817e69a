// @ts-check
import { newKey, post } from "../lib/api.js";
import { refusal } from "../sketch/commits.js";

/** The key of each swap that got no answer yet: pressed again, it happens once. @type {Map<string, string>} */
const keys = new Map();
const { case: caseId, version, construct } = document.body.dataset;

/** @param {string} sentence */
function say(sentence) {
  const place = document.getElementById("status");
  if (place) place.textContent = sentence;
}

document.addEventListener("click", async (event) => {
  const button = /** @type {Element} */ (event.target).closest("button[data-swap]");
  if (!(button instanceof HTMLButtonElement)) return;
  button.disabled = true;
  const body = { construct: Number(construct), view: null, seq: 0, edit: JSON.parse(button.dataset.swap ?? "{}") };
  const swap = button.dataset.swap ?? "{}";
  const key = keys.get(swap) ?? newKey();
  keys.set(swap, key);
  const write = { version: Number(version), key };
  const answer = await post(`/api/v1/cases/${caseId}/edits`, body, write).catch(() => null);
  if (answer?.ok) return location.assign(`/cases/${caseId}?construct=${construct}`);
  button.disabled = false;
  if (!answer) say("The server doesn’t answer; it is not known whether this was written. Try again: it happens once.");
  else if (answer.status === 412) say("The case has changed meanwhile. Load this page again to see it as it is now.");
  else say(refusal(answer.problem));
});
