// @ts-check
import { follow } from "../lib/events.js";
import { patchHtml, patchSvg } from "../lib/patch.js";
import { makeReaderLink } from "../lib/reader_link.js";
import { tellTimesHere } from "../lib/times.js";
import { handAppears } from "./hand.js";
import { roomMap } from "./map.js";
import { WarningPages } from "./warnings.js";

/**
 * @typedef {{version: number, construct: number, variant: string, label: string, step: number, steps: number,
 *   tried: boolean, title: string, bones: string[], drawing: string, words: string}} Picture
 */

const TIMEOUT_MS = 8000;
const AGAIN_MS = 1000;
const TIMES = 5;
const LETTERS_KEY = "fishplate-letters";
const SIZES = [0.8, 0.9, 1, 1.15, 1.3, 1.5, 1.75, 2];

/** @param {string} id @returns {HTMLElement} */
function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page lacks #${id}`);
  return found;
}

const data = document.body.dataset;
const path = `${data.root}/api/v1/cases/${data.case}`;

/** What to show: pictures come whole from the server, one request at a time, and the newest wish wins. */
const wish = {
  construct: Number(data.construct),
  variant: data.variant ?? "now",
  step: Number(data.step),
  times: Number(data.times),
  version: Number(data.version),
  /** @type {object | null} */
  edit: null,
};
let steps = Number(data.steps);
/** @type {[string, string][]} keys and names of the variants */
let variants = JSON.parse(data.variants ?? "[]");
/** @type {string[]} in the order of the case */
let bones = JSON.parse(data.bones ?? "[]");
const pages = new WarningPages(byId("words"), showHand);
const map = roomMap(
  byId("words"),
  byId("room-map"),
  () => `construct=${wish.construct}&variant=${wish.variant}`,
  () => wish.version,
  `${data.root}/cases/${data.case}/conference/map`,
);
let asking = false;
let stale = false;

/** @returns {URLSearchParams} */
function scene() {
  const query = new URLSearchParams({ construct: String(wish.construct), variant: wish.variant, step: String(wish.step) });
  if (wish.times !== 1) query.set("times", String(wish.times));
  return query;
}

/** @returns {string} */
function address() {
  const query = scene();
  query.set("version", String(wish.version));
  if (wish.edit && wish.variant === "now") query.set("edit", JSON.stringify(wish.edit));
  return `${path}/picture?${query}`;
}

async function show() {
  stale = true;
  if (asking) return;
  asking = true;
  while (stale) {
    stale = false;
    const asked = address();
    const answer = await fetch(asked, { signal: AbortSignal.timeout(TIMEOUT_MS) }).catch(() => null);
    if (answer?.ok) draw(await answer.json());
    else if (answer && answer.status < 500) unfit(answer.status);
    else setTimeout(show, AGAIN_MS);
  }
  asking = false;
}

/** What was asked for is gone: a what-if taken away, an edit no longer possible, a case deleted. @param {number} status */
function unfit(status) {
  if (wish.edit) wish.edit = null;
  else if (wish.variant !== "now") wish.variant = "now";
  else if (wish.construct > 0 && status === 404 && bones.length > 1) wish.construct = 0;
  else return say(status === 404 ? "This case was deleted." : "This link has ended.");
  stale = true;
}

/** @param {Picture} picture */
function draw(picture) {
  if (picture.version < wish.version && picture.variant === "now") stale = true;
  if (picture.version > wish.version) Object.assign(wish, { version: picture.version, edit: null });
  const svg = byId("picture").querySelector("svg");
  if (svg) patchSvg(svg, picture.drawing);
  patchHtml(byId("words"), picture.words);
  pages.fit();
  byId("title").textContent = picture.title;
  byId("label").textContent = picture.label;
  document.title = `${picture.title}, conference view – Fishplate`;
  document.body.classList.toggle("tried", picture.tried);
  bones = picture.bones;
  byId("of-bone").textContent = bones[picture.construct] ?? "";
  byId("of-bone").hidden = bones.length < 2;
  document.getElementById("to-sketch")?.setAttribute("href", `${data.root}/cases/${data.case}?construct=${picture.construct}`);
  steps = picture.steps;
  wish.step = Math.min(wish.step, steps);
  showHand();
  Object.assign(document.body.dataset, { version: picture.version, variant: picture.variant, step: picture.step });
  if (picture.tried) return;
  remember();
  map.renew();
}

/** A reload shows the same. */
function remember() {
  history.replaceState(null, "", `?${scene()}${map.on() ? "&map" : ""}`);
}

/** @param {string} sentence */
function say(sentence) {
  const place = byId("connection");
  if (place.textContent !== sentence) place.textContent = sentence;
}

async function renewVariants() {
  const answer = await fetch(`${path}/whatifs`, { signal: AbortSignal.timeout(TIMEOUT_MS) }).catch(() => null);
  if (!answer?.ok) return;
  /** @type {{id: number, name: string, construct: number, fits: boolean}[]} */
  const found = await answer.json();
  const own = found.filter((one) => one.construct === wish.construct && one.fits);
  variants = [["now", "Now"], ...own.map((one) => /** @type {[string, string]} */ ([`w${one.id}`, one.name]))];
  if (!variants.some(([key]) => key === wish.variant)) wish.variant = "now";
  showHand();
  show();
}

/** What the buttons say and which there are. */
function showHand() {
  byId("where").textContent = wish.step ? `step ${wish.step} of ${steps}` : "all steps done";
  /** @param {string} name */
  const button = (name) => /** @type {HTMLElement} */ (document.querySelector(`[data-do="${name}"]`));
  button("variant").hidden = variants.length < 2;
  button("bone").hidden = bones.length < 2;
  button("more").hidden = map.on() || pages.count < 2 || document.body.classList.contains("unwarned");
  button("times").setAttribute("aria-pressed", String(wish.times !== 1));
  button("map").setAttribute("aria-pressed", String(map.on()));
  button("warnings").setAttribute("aria-pressed", String(!document.body.classList.contains("unwarned")));
}

follow(`${path}/events`, {
  version(version) {
    Object.assign(wish, { version, edit: null });
    show();
  },
  preview(tried) {
    if (tried.version < wish.version) return;
    wish.version = tried.version;
    const edit = tried.construct === wish.construct ? tried.edit : null;
    if (!edit && !wish.edit) return;
    wish.edit = edit;
    if (wish.variant === "now") show();
  },
  pins: renewVariants,
  connected: (on) => say(on ? "" : "Not connected; this is the last that came. Trying again."),
});

/** @param {number} step 0 stands for all, after the last */
function goToStep(step) {
  wish.step = step < 0 ? steps : step > steps ? 0 : step;
  show().then(() => {
    const words = document.querySelector("#words .do")?.textContent;
    byId("spoken").textContent = wish.step ? `Step ${wish.step} of ${steps}. ${words ?? ""}` : "All steps done.";
  });
}

/** @param {number} index */
function goToVariant(index) {
  const at = (index + variants.length) % variants.length;
  wish.variant = variants[at][0];
  byId("spoken").textContent = variants[at][1];
  show();
}

/** The next variant. @param {number} by */
function nextVariant(by) {
  goToVariant(variants.findIndex(([key]) => key === wish.variant) + by);
}

function nextBone() {
  if (bones.length < 2) return;
  Object.assign(wish, { construct: (wish.construct + 1) % bones.length, step: 0, variant: "now", edit: null });
  byId("spoken").textContent = bones[wish.construct];
  renewVariants();
}

function toggleTimes() {
  wish.times = wish.times === 1 ? TIMES : 1;
  byId("spoken").textContent = wish.times === 1 ? "Movements at true size." : "Movements five times as large.";
  showHand();
  show();
}

function moreWarnings() {
  byId("spoken").textContent = pages.next();
}

async function copyLink() {
  const made = await makeReaderLink(path);
  const failed = typeof made === "string";
  byId("link-said").textContent = failed ? made : made.said;
  const field = /** @type {HTMLInputElement} */ (byId("link-address"));
  field.value = failed ? "" : made.address;
  /** @type {HTMLDialogElement} */ (byId("link")).showModal();
  field.select();
}

let size = SIZES.indexOf(1);
/** @param {number} by */
function resize(by) {
  size = Math.max(0, Math.min(SIZES.length - 1, size + by));
  document.body.style.setProperty("--larger", String(SIZES[size]));
  pages.fit();
}

function toggleWarnings() {
  const off = document.body.classList.toggle("unwarned");
  byId("spoken").textContent = off ? "Warnings off." : "Warnings on.";
  pages.fit();
  showHand();
}

async function toggleMap() {
  const told = map.toggle();
  showHand();
  remember();
  pages.fit();
  byId("spoken").textContent = await told;
}

function toggleFullScreen() {
  if (document.fullscreenElement) document.exitFullscreen();
  else document.documentElement.requestFullscreen().catch(() => say("This browser refuses full screen."));
}

/** @type {{[name: string]: () => void}} what buttons do, and keys */
const DOES = {
  "step-on": () => goToStep(wish.step + 1),
  "step-back": () => goToStep(wish.step - 1),
  variant: () => nextVariant(1),
  bone: nextBone,
  times: toggleTimes,
  more: moreWarnings,
  warnings: toggleWarnings,
  map: toggleMap,
  smaller: () => resize(-1),
  larger: () => resize(1),
  screen: toggleFullScreen,
  link: copyLink,
  help: () => /** @type {HTMLDialogElement} */ (byId("help")).showModal(),
};

/** @type {{[key: string]: () => void}} */
const KEYS = {
  ArrowRight: DOES["step-on"],
  ArrowLeft: DOES["step-back"],
  PageDown: DOES["step-on"],
  PageUp: DOES["step-back"],
  Home: () => goToStep(1),
  End: () => goToStep(0),
  ArrowDown: DOES.variant,
  ArrowUp: () => nextVariant(-1),
  b: nextBone,
  m: toggleTimes,
  n: moreWarnings,
  w: toggleWarnings,
  l: toggleMap,
  f: toggleFullScreen,
  "+": DOES.larger,
  "=": DOES.larger,
  "-": DOES.smaller,
  "?": DOES.help,
};

/** @returns {boolean} whether single characters act as keys; people who dictate switch them off */
function lettersOn() {
  try {
    return localStorage.getItem(LETTERS_KEY) !== "off";
  } catch {
    return true;
  }
}

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey) return;
  if (document.querySelector("dialog[open]")) return;
  appear();
  const single = event.key.length === 1;
  if (single && event.key !== "?" && !lettersOn()) return;
  const act = KEYS[single ? event.key.toLowerCase() : event.key];
  const number = /^[1-9]$/.test(event.key) ? Number(event.key) : 0;
  if (act) act();
  else if (number && number <= variants.length) goToVariant(number - 1);
  else return;
  event.preventDefault();
});
const letters = /** @type {HTMLInputElement} */ (byId("letters"));
letters.checked = lettersOn();
letters.addEventListener("change", () => localStorage.setItem(LETTERS_KEY, letters.checked ? "on" : "off"));

const appear = handAppears(byId("hand"), (name) => DOES[name]());
tellTimesHere("time", "long");
pages.fit();
showHand();
map.renew();
