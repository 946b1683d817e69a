// @ts-check
import { post } from "./api.js";
import { refusal } from "./commits.js";

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
  const answer = await post(`/api/v1/cases/${caseId}/edits`, body, Number(version)).catch(() => null);
  if (answer?.ok) return location.assign(`/cases/${caseId}?construct=${construct}`);
  button.disabled = false;
  if (!answer) say("The server doesn’t answer; nothing was changed. Try again.");
  else if (answer.status === 412) say("The case has changed meanwhile. Load this page again to see it as it is now.");
  else say(refusal(answer.problem));
});
