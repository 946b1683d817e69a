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

  /** @returns {string} what they belong to */
  function wanted() {
    return `${page.version}?construct=${page.construct}${page.loads}`;
  }

  function write() {
    for (const place of /** @type {NodeListOf<HTMLElement>} */ (document.querySelectorAll("[data-band]"))) {
      const text = bands[String(place.dataset.band)] ?? "";
      place.textContent = text && ` (${text})`;
    }
  }

  async function fetchThem() {
    const asked = wanted();
    if (page.board.matches(".dragging, .stepping") || !document.getElementById("mech")) return;
    const answer = await get(`${page.path}/bands?${asked.split("?")[1]}`).catch(() => null);
    if (!answer && asked === wanted() && tries++ < TRIES) timer = setTimeout(fetchThem, AGAIN_MS);
    if (!answer || asked !== wanted() || answer.version !== page.version) return;
    [shownFor, bands] = [asked, answer.figures];
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
