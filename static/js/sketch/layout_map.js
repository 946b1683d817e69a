// @ts-check
import { keyHeader, newKey, post } from "../lib/api.js";
import { patchHtml } from "../lib/patch.js";
import { refusal } from "./commits.js";
import { placeMarks } from "./hole_marks.js";
import { byId } from "./page.js";
import { STACKED } from "./tabs.js";

const REST_MS = 15;
const BANDS_MS = 400;
const TIMEOUT_MS = 15000;

/**
 * The map of layouts: asked for when it is in sight and the hand rests; pointing at a place says what lies there, a click
 * lists it; a layout is tried in the drawing, which writes nothing, or kept as a what-if.
 * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits @param {() => Promise<void>} renewWhatifs
 * @param {(panel: string) => void} reach scrolls to a panel
 */
export function showLayoutMap(page, commits, renewWhatifs, reach) {
  const host = byId("panel-map");
  const marks = placeMarks(page);
  let seen = false;
  let shownFor = "";
  let listedFor = "";
  let timer = 0;
  let tried = false;
  /** What was to be kept and got no answer, with its key. */
  let unanswered = { body: "", key: "" };
  /** @type {{[axis: string]: string}} */
  const axes = {};
  let marked = "";

  /** @returns {string} the part of the address that says what is looked at */
  function asked() {
    const chosen = Object.entries(axes).map(([axis, figure]) => `&${axis}=${figure}`);
    return `construct=${page.construct}${chosen.join("")}${page.loads}`;
  }

  /** @param {boolean} [banded] whether single changes are looked at over what is not known */
  async function renew(banded = false) {
    const wanted = `${page.version} ${asked()}`;
    const open = seen || document.body.dataset.panel === "map";
    if (!open || (shownFor === wanted && !banded) || page.board.classList.contains("dragging")) return;
    const answer = await part(`map?${asked()}${banded ? "&bands=true" : ""}`);
    if (answer === null || wanted !== `${page.version} ${asked()}`) return;
    const first = !shownFor;
    shownFor = wanted;
    show(answer);
    if (first && document.body.dataset.panel === "map") reach("map"); // what stands above may have found its own height by now
    const undrawn = document.getElementById("layout-map")?.dataset.drawn === "no";
    if (undrawn && !banded) timer = setTimeout(() => renew(true), BANDS_MS);
  }

  /** @param {string} html */
  function show(html) {
    const inside = document.activeElement?.id;
    const listed = listedFor === shownFor ? (document.getElementById("map-list")?.innerHTML ?? "") : "";
    const pointed = host.querySelector(".map-cell.pointed")?.getAttribute("data-cell");
    patchHtml(host, html.replace(/(<div id="map-list"[^>]*>)/, (tag) => tag + listed)); // what was listed stays, focus and all
    const cell = pointed && listedFor === shownFor && host.querySelector(`[data-cell="${pointed}"]`);
    if (cell) point(cell);
    if (inside) document.getElementById(inside)?.focus({ preventScroll: true });
    const select = /** @type {HTMLSelectElement | null} */ (document.getElementById("map-holes"));
    if (select && [...select.options].some((one) => one.value === marked)) select.value = marked;
    else marked = "";
    showMarks();
  }

  function soon() {
    clearTimeout(timer);
    timer = setTimeout(() => renew(), REST_MS);
  }

  /** @param {string} address @returns {Promise<string | null>} */
  async function part(address) {
    const answer = await fetch(`/cases/${page.caseId}/${address}`, { signal: AbortSignal.timeout(TIMEOUT_MS) }).catch(() => null);
    if (answer?.ok) return answer.text();
    page.say("The server gave no map of layouts; try again.");
    return null;
  }

  function showMarks() {
    const told = document.getElementById("layout-map")?.dataset.holes ?? "[]";
    marks(marked ? JSON.parse(told).filter((/** @type {{axis: string}} */ one) => one.axis === marked) : []);
  }

  /** @param {string} which the rest of the address: a cell or a number of screws */
  async function list(which) {
    const answer = await part(`map/list?${asked()}&${which}`);
    const place = document.getElementById("map-list");
    if (answer === null || !place) return;
    patchHtml(place, answer);
    listedFor = shownFor;
    document.getElementById("map-list-title")?.focus({ preventScroll: false });
  }

  /** @param {string} edit */
  async function attempt(edit) {
    const answer = await post(`${page.path}/preview`, { ...page.trial(page.view), edit: JSON.parse(edit), quiet: true }).catch(() => null);
    if (!answer?.ok) return page.say(answer ? refusal(answer.problem) : "The server doesn’t answer.");
    tried = true;
    page.show(answer.redraw);
    if (matchMedia(STACKED).matches) byId("board").scrollIntoView(); // it went out of sight with the page
    page.say("Only tried: nothing is written. Escape, or any change, goes back to the construct as it is.");
  }

  async function back() {
    tried = false;
    if (await page.refresh(page.view, true)) page.say("As it is written.");
  }

  /** The server tries the layout and keeps it under a name: the construct and its history stay. @param {string} edit */
  async function keep(edit) {
    if (!(await commits.settled())) return page.say("Nothing kept: what you changed last is not written yet.");
    const body = JSON.stringify({ construct: page.construct, edit: JSON.parse(edit), version: page.version });
    if (unanswered.body !== body) unanswered = { body, key: newKey() };
    const headers = { "Content-Type": "application/json", ...keyHeader(unanswered.key) };
    const signal = AbortSignal.timeout(TIMEOUT_MS);
    const answer = await fetch(`${page.path}/whatifs`, { method: "POST", headers, body, signal }).catch(() => null);
    if (answer && answer.status < 500) unanswered = { body: "", key: "" };
    const kept = await answer?.json().catch(() => null);
    if (!answer?.ok) return page.say(kept?.error ?? "The server doesn’t answer; pressed again, the same is kept once.");
    await renewWhatifs();
    shownFor = "";
    await renew();
    page.say(`Kept as ${kept.name}; the construct is as it was.`);
  }

  /** @param {Element} cell */
  function point(cell) {
    for (const one of host.querySelectorAll(".map-cell.pointed")) one.classList.remove("pointed");
    cell.classList.add("pointed");
    byId("map-said").textContent = cell.getAttribute("data-words") ?? "";
  }

  /** The nearest place in the direction of an arrow. @param {string} key */
  function step(key) {
    const cells = [...host.querySelectorAll(".map-cell")];
    const at = host.querySelector(".map-cell.pointed") ?? cells[0];
    if (!at) return;
    const [column, row] = (at.getAttribute("data-cell") ?? "0,0").split(",").map(Number);
    const [dx, dy] = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[key] ?? [0, 0];
    let best = null;
    let least = Infinity;
    for (const cell of cells) {
      const [c, r] = (cell.getAttribute("data-cell") ?? "0,0").split(",").map(Number);
      const along = (c - column) * dx + (r - row) * dy;
      const beside = Math.abs((c - column) * dy) + Math.abs((r - row) * dx);
      if (along > 0 && along + 3 * beside < least) [best, least] = [cell, along + 3 * beside];
    }
    point(best ?? at);
  }

  new IntersectionObserver((entries) => {
    seen = entries.some((entry) => entry.isIntersecting);
    if (seen) soon();
  }).observe(host);
  page.after.push(soon);
  byId("to-map").addEventListener("click", soon);

  host.addEventListener("change", (event) => {
    const field = event.target;
    if (!(field instanceof HTMLSelectElement)) return;
    if (field.dataset.mapAxis) {
      axes[field.dataset.mapAxis] = field.value;
      renew();
    } else if (field.dataset.mapHoles !== undefined) {
      marked = field.value;
      showMarks();
    }
  });
  host.addEventListener("submit", (event) => event.preventDefault());
  host.addEventListener("pointerover", (event) => {
    const told = /** @type {Element} */ (event.target).closest("[data-words]");
    if (told?.classList.contains("map-cell")) point(told);
    else if (told) byId("map-said").textContent = told.getAttribute("data-words") ?? "";
  });
  host.addEventListener("click", (event) => {
    const target = /** @type {Element} */ (event.target);
    const cell = target.closest("[data-cell]");
    const button = target.closest("button");
    if (cell) {
      point(cell);
      list(`cell=${cell.getAttribute("data-cell")}`);
    } else if (button?.dataset.mapTry) attempt(button.dataset.mapTry);
    else if (button?.dataset.mapKeep) keep(button.dataset.mapKeep);
    else if (button?.dataset.mapScrews) list(`screws=${button.dataset.mapScrews}`);
  });
  host.addEventListener("keydown", (event) => {
    if (event.target !== document.getElementById("map-board")) return;
    const at = host.querySelector(".map-cell.pointed");
    if (event.key.startsWith("Arrow")) step(event.key);
    else if (event.key === "Enter" && at) list(`cell=${at.getAttribute("data-cell")}`);
    else return;
    event.preventDefault();
  });
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && tried) back();
  });
}
