// @ts-check
import { get } from "../lib/api.js";

const REST_MS = 500;
const AGAIN_MS = 3000;
const TRIES = 3;

/**
 * Between what each figure of the mechanics lies: worked out when the hand rests, since that takes as long as two dozen
 * drags’ pictures.
 * @param {import("./page.js").Page} page
 */
export function showBands(page) {
  let timer = 0;
  let tries = 0;
  let shownFor = "";
  /** @type {{[id: string]: string}} */
  let bands = {};
  /** @type {{[id: string]: string}} */
  let changes = {};

  /** @returns {string} what they belong to */
  function wanted() {
    return `${page.version}?construct=${page.construct}${page.loads}`;
  }

  function write() {
    for (const place of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-band]"))) {
      const id = String(place.dataset.band);
      // beside a figure that shows what it was before, where there is room for that
      const change = !place.closest(".readings") && place.parentElement?.querySelector(".was") && changes[id];
      const text = [bands[id], change].filter(Boolean).join("; ");
      place.textContent = text && ` (${text})`;
    }
  }

  async function fetchThem() {
    const asked = wanted();
    if (page.board.matches(".dragging, .stepping") || !document.getElementById("mech")) return;
    const changed = document.querySelector("[data-figure] .was") ? "&changed=true" : "";
    const answer = await get(`${page.path}/bands?${asked.split("?")[1]}${changed}`).catch(() => null);
    if (!answer && asked === wanted() && tries++ < TRIES) timer = setTimeout(fetchThem, AGAIN_MS);
    if (!answer || asked !== wanted() || answer.version !== page.version) return;
    [shownFor, bands, changes] = [asked, answer.figures, answer.changes];
    write();
  }

  function soon() {
    clearTimeout(timer);
    if (page.board.classList.contains("dragging")) return;
    if (shownFor === wanted()) return write(); // the panel was drawn anew, and is about the same
    tries = 0;
    timer = setTimeout(fetchThem, REST_MS);
  }

  page.after.push(soon);
  soon();
}
