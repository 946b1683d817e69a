// @ts-check
import { filled, get } from "../lib/api.js";
import { numberOf, rangeOf } from "../lib/number.js";
import { patchHtml } from "../lib/patch.js";
import { frameButton } from "./frame.js";
import { byId } from "./page.js";

/**
 * Form controls and buttons around the drawing: each carries the edit that it makes.
 * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits
 */
export function listenToPanels(page, commits) {
  /**
   * Some edits leave the drawing's window as it is; others may change what there is to see.
   * @param {HTMLElement} carrier the control whose edit it is @param {import("../lib/api.js").Edit} edit
   */
  const commit = (carrier, edit) => commits.edit(edit, carrier.dataset.keepsWindow === undefined ? null : page.view);

  // Whatever is being written in stays as it is, whoever draws the panel around it anew meanwhile.
  document.addEventListener("input", (event) => {
    const field = event.target;
    if (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement) field.setAttribute("data-dirty", "");
  });
  document.addEventListener("change", (event) => {
    const field = event.target;
    if (field instanceof HTMLSelectElement) {
      if (field.dataset.waits !== undefined) return; // a button takes what is chosen; an arrow key alone does nothing
      const chosen = field.selectedOptions[0];
      if (chosen?.dataset.edit) commit(chosen, JSON.parse(chosen.dataset.edit));
      else if (chosen?.dataset.ask) told(chosen, chosen.dataset.ask);
      else if (field.dataset.edit) commit(field, filled(field.dataset.edit, field.dataset.field ?? "", field.value));
    } else if (field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement) {
      field.removeAttribute("data-dirty");
      if (field.dataset.edit) commitField(field, field.dataset.edit);
    }
  });

  /** Make the edit that the server tells when asked. @param {HTMLOptionElement} chosen @param {string} question */
  async function told(chosen, question) {
    const answer = (await commits.settled()) && (await get(`${page.path}/${question}`).catch(() => null));
    if (answer && answer.version === page.version) return commit(chosen, answer.edit);
    page.say(answer ? "The case had changed elsewhere; this is how it is now." : "The server gave no answer; try again.");
    page.refresh(page.view);
  }

  /** @param {HTMLInputElement | HTMLTextAreaElement} field @param {string} template */
  function commitField(field, template) {
    /** @type {string | number | null} */
    let value = field.value;
    if (field instanceof HTMLInputElement && field.dataset.number !== undefined) {
      const empty = field.value.trim() === "";
      value = empty ? null : numberOf(field);
      if (empty ? !field.dataset.empty : value === null) {
        if (!empty) page.say(rangeOf(field));
        field.value = field.defaultValue;
        return;
      }
    }
    commit(field, filled(template, field.dataset.field ?? "", value));
  }

  /** @param {HTMLSelectElement} field */
  function take(field) {
    const chosen = field.selectedOptions[0];
    if (chosen?.dataset.edit) return commit(chosen, JSON.parse(chosen.dataset.edit));
    page.say("Choose a bone first.");
    field.focus();
  }

  byId("head").addEventListener("keydown", (event) => {
    const open = /** @type {Element} */ (event.target).closest("details[open]");
    if (event.key !== "Escape" || !open) return;
    open.removeAttribute("open");
    open.querySelector("summary")?.focus();
  });

  document.addEventListener("click", (event) => {
    const button = /** @type {Element} */ (event.target).closest("button");
    if (!button || page.board.contains(button)) return;
    if (button.dataset.edit) commit(button, JSON.parse(button.dataset.edit));
    else if (button.dataset.takes) take(/** @type {HTMLSelectElement} */ (byId(button.dataset.takes)));
    else if (button.dataset.ask) ask(page, button, button.dataset.ask);
    else if (button.dataset.history) commits.history(button.dataset.history === "redo" ? "redo" : "undo");
    else frameButton(page, button.id);
  });
  offerLayouts(page);
}

/**
 * Some things the server looks for only when asked. The answer takes the place of the question.
 * @param {import("./page.js").Page} page @param {HTMLElement} button @param {string} question
 */
async function ask(page, button, question) {
  const place = /** @type {HTMLElement | null} */ (button.closest("[data-answer]"));
  const asked = page.version;
  const answer = await get(`${page.path}/${question}`).catch(() => null);
  if (!answer) page.say("The server gave no answer; try again.");
  // What was edited meanwhile, here or elsewhere, may have another answer, and brings the question back.
  if (!answer || !place?.isConnected || page.version !== asked) return;
  if (answer.version !== asked) {
    page.say("The case had changed elsewhere; this is how it is now.");
    return void page.refresh(page.view);
  }
  const inside = place.contains(document.activeElement);
  patchHtml(place, answer.html);
  if (inside && !place.contains(document.activeElement)) place.focus({ preventScroll: true });
  page.say(answer.status);
}

/** Suggested layouts take a search, so they come after the drawing. @param {import("./page.js").Page} page */
function offerLayouts(page) {
  let shownFor = "";
  let timer = 0;
  const fetchThem = async () => {
    const wanted = `${page.version} ${page.construct}`;
    if (shownFor === wanted) return;
    if (page.board.classList.contains("dragging")) return; // its end will ask again
    const answer = await get(`${page.path}/layouts?construct=${page.construct}`).catch(() => null);
    if (!answer) return;
    shownFor = `${answer.version} ${page.construct}`;
    byId("panel-layouts").innerHTML = answer.html;
  };
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(fetchThem, 600);
  };
  page.after.push(soon);
  soon();
}
