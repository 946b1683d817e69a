// @ts-check
import { keyHeader, newKey } from "../lib/api.js";
import { byId } from "./page.js";
import { patchHtml } from "../lib/patch.js";
import { makeReaderLink } from "../lib/reader_link.js";

const TIMEOUT_MS = 15000;

/**
 * What-ifs of the construct shown: kept, renamed, taken away; swapping in is an edit like any other.
 * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits
 * @returns {() => Promise<void>} shows them as they are now
 */
export function listenToWhatifs(page, commits) {
  const host = byId("panel-whatifs");
  let shownFor = "";

  async function renew() {
    const wanted = `${page.version} ${page.construct}`;
    const answer = await ask("GET", `/cases/${page.caseId}/whatifs?construct=${page.construct}`);
    if (!answer?.ok) return;
    shownFor = wanted;
    patchHtml(host, await answer.text());
  }

  /** The key of what was to be kept and got no answer: pressed again, the same is kept once. */
  let tried = { what: "", key: "" };

  async function keep() {
    // What is still waiting must be written first: a what-if is made of what the server has.
    if (!(await commits.settled())) return page.say("Nothing kept: what you changed last is not written yet.");
    const what = `${page.version} ${page.construct}`;
    if (tried.what !== what) tried = { what, key: newKey() };
    const answer = await ask("POST", `${page.path}/whatifs`, { construct: page.construct }, keyHeader(tried.key));
    if (answer && answer.status < 500) tried.what = "";
    if (!(await went(answer))) return;
    const kept = await answer?.json();
    await renew();
    page.say(`Kept as ${kept.name}. Its name can be changed.`); // the hand is elsewhere by now, and so stays the focus
  }

  /** @param {string} id @param {string} name */
  async function remove(id, name) {
    if (!(await went(await ask("DELETE", `${page.path}/whatifs/${id}`)))) return;
    await renew();
    host.focus({ preventScroll: true });
    page.say(`${name} removed. The history still has it.`);
  }

  /** @param {HTMLInputElement} field */
  async function rename(field) {
    const answer = await ask("PATCH", `${page.path}/whatifs/${field.dataset.whatifName}`, { name: field.value });
    if (await went(answer)) page.say(`Renamed: ${(await answer?.json()).name}.`);
    await renew();
  }

  /** @param {Response | null} answer @returns {Promise<boolean>} */
  async function went(answer) {
    if (answer?.ok) return true;
    const problem = await answer?.json().catch(() => null);
    page.say(problem?.error ?? "The server doesn’t answer; it is not known whether this was written. Try again.");
    return false;
  }

  async function makeLink() {
    const made = await makeReaderLink(page.path);
    if (typeof made === "string") return page.say(made);
    byId("reader-link").hidden = false;
    const field = /** @type {HTMLInputElement} */ (byId("reader-address"));
    field.value = made.address;
    byId("reader-ends").textContent = made.said;
    field.focus();
    field.select();
  }

  async function withdrawLinks() {
    const answer = await ask("DELETE", `${page.path}/reader-link`);
    if (!(await went(answer))) return;
    byId("reader-link").hidden = true;
    byId("reader-ends").textContent = "All read-only links to this case are withdrawn; whoever has one can’t open it any more.";
  }

  document.addEventListener("click", (event) => {
    const button = /** @type {Element} */ (event.target).closest("button");
    if (!button) return;
    if (button.dataset.whatifKeep !== undefined) keep();
    else if (button.dataset.whatifRemove) {
      const row = button.closest("li")?.querySelector("input");
      remove(button.dataset.whatifRemove, row?.defaultValue ?? "What-if");
    } else if (button.id === "make-reader-link") makeLink();
    else if (button.id === "withdraw-reader-links") withdrawLinks();
  });
  host.addEventListener("change", (event) => {
    if (event.target instanceof HTMLInputElement && event.target.dataset.whatifName) rename(event.target);
  });
  page.after.push(() => {
    if (shownFor !== `${page.version} ${page.construct}` && !page.board.classList.contains("dragging")) renew();
  });
  renew();
  return renew;
}

/**
 * @param {string} method @param {string} path @param {object | null} body @param {{[name: string]: string}} more headers
 * @returns {Promise<Response | null>} null if no answer came
 */
function ask(method, path, body = null, more = {}) {
  const headers = body ? { "Content-Type": "application/json", ...more } : undefined;
  const signal = AbortSignal.timeout(TIMEOUT_MS);
  return fetch(path, { method, headers, body: body && JSON.stringify(body), signal }).catch(() => null);
}
