// @ts-check
import { newKey, post } from "../lib/api.js";
import { flashChanged, textsOf } from "./figures.js";
import { Frame } from "./frame.js";
import { Live } from "../lib/live.js";
import { patchHtml, patchSvg } from "../lib/patch.js";

/** @param {string} id @returns {HTMLElement} */
export function byId(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page lacks #${id}`);
  return found;
}

/** @returns {string} what undo would take back, in the words of the edit */
export function undoLabel() {
  return document.querySelector("#undo .what")?.textContent?.replace(/^:\s*/, "") ?? "";
}

/** Panels that follow a drag. */
export const LIVE = ["readings", "summary", "warnings", "mechanics"];

/** The sketch page: what it shows, and how an answer of the server gets onto it. */
export class Page {
  constructor() {
    const data = document.body.dataset;
    this.path = `/api/v1/cases/${data.case}`;
    this.live = new Live(this.path);
    this.caseId = data.case ?? "";
    this.version = Number(data.version);
    this.construct = Number(data.construct);
    this.board = byId("board");
    this.frame = new Frame(this);
    /** @type {import("./loads.js").Load[]} the loads chosen, by construct; every request carries them */
    this.loading = JSON.parse(document.getElementById("mech")?.dataset.loads ?? "[]");
    /** tells this page from others that sketch the same case */
    this.hand = newKey();
    this.sequence = 0;
    this.shown = 0;
    this.drawn = this.version; // of which version the page's picture is
    /** @type {Map<string, string>} what each panel was last made from */
    this.sources = new Map();
    /** @type {Set<Element>} */
    this.inSight = new Set();
    /** @type {(() => void) | null} called when a panel comes into sight */
    this.onSight = null;
    this.#watchPanels();
    /** @type {(() => void)[]} called after every redraw but those during a drag */
    this.after = [];
  }

  /** @returns {SVGSVGElement} */
  get svg() {
    return /** @type {SVGSVGElement} */ (this.board.querySelector("svg"));
  }

  /** @returns {[number, number] | null} the window that the drawing shows, mm */
  get view() {
    const ends = (this.svg.dataset.view ?? "").split(",").map(Number);
    return ends.length === 2 && ends.every(Number.isFinite) ? [ends[0], ends[1]] : null;
  }

  /** @returns {string} the loads that are looked at, as the rest of an address; empty: the presets */
  get loads() {
    return document.getElementById("mech")?.dataset.query ?? "";
  }

  /** @param {[number, number] | null} view @returns {{construct: number, view: [number, number] | null, room: [number, number], seq: number, loading: import("./loads.js").Load[]}} */
  where(view) {
    this.sequence += 1;
    return { construct: this.construct, view, room: this.frame.room, seq: this.sequence, loading: this.loading };
  }

  /** The same for what is only tried out. @param {[number, number] | null} view */
  trial(view) {
    return { ...this.where(view), hand: this.hand };
  }

  /** Whether the hand's work is safe. @param {"saved" | "saving" | "kept" | "away" | "elsewhere"} state */
  mark(state) {
    const sign = byId("saved");
    sign.dataset.state = state;
    const words = { saved: "Saved", saving: "Saving …", kept: "Not connected, kept here", away: "Not connected", elsewhere: "Changed elsewhere" }[state];
    if (sign.textContent !== words) sign.textContent = words;
  }

  /** @param {string} sentence */
  say(sentence) {
    byId("status").textContent = sentence;
  }

  /**
   * Show an answer, unless a newer one is shown already.
   * @param {import("../lib/api.js").Redraw} redraw
   */
  show(redraw) {
    const committed = redraw.panels.head !== null;
    if (committed) this.moveTo(redraw);
    // What was asked later may be answered earlier, of a version that was then the newest: versions come first.
    if (redraw.version < this.drawn || (redraw.version === this.drawn && redraw.seq < this.shown)) return;
    this.drawn = redraw.version;
    this.shown = Math.max(this.shown, redraw.seq);
    const before = committed ? textsOf(document) : null;
    if (redraw.drawing.length) patchSvg(this.svg, redraw.drawing); // else it could not be made, and the old one stays
    for (const name of /** @type {const} */ (["readings", "summary", "warnings", "screws", "mechanics", "order", "setup"])) {
      this.#panel(`panel-${name}`, redraw.panels[name]);
    }
    if (before) {
      this.#panel("head", redraw.panels.head);
      document.title = `${byId("case-title").textContent} – Fishplate`;
      flashChanged(document, before);
    }
    if (this.board.classList.contains("dragging")) return;
    for (const act of this.after) act();
  }

  #watchPanels() {
    const watch = new IntersectionObserver((entries) => {
      for (const { target, isIntersecting } of entries) {
        if (isIntersecting) this.inSight.add(target);
        else this.inSight.delete(target);
      }
      if (entries.some((entry) => entry.isIntersecting)) this.onSight?.();
    });
    for (const name of LIVE) watch.observe(byId(`panel-${name}`));
  }

  /** @returns {string[]} panels that a drag has to keep up to date: those in sight; the others wait for its end */
  get livePanels() {
    return LIVE.filter((name) => this.inSight.has(byId(`panel-${name}`)));
  }

  /** From here on the page is that of another version. @param {import("../lib/api.js").Redraw} redraw */
  moveTo(redraw) {
    this.version = redraw.version;
    document.body.dataset.version = String(redraw.version);
    if (this.construct !== redraw.construct) {
      this.construct = redraw.construct;
      document.body.dataset.construct = String(redraw.construct);
      history.replaceState(null, "", `/cases/${this.caseId}?construct=${this.construct}`);
      const file = /** @type {HTMLAnchorElement} */ (byId("drawing-file"));
      file.href = `/cases/${this.caseId}/drawing.svg?construct=${this.construct}`;
      const picture = /** @type {HTMLAnchorElement} */ (byId("picture-file"));
      picture.href = `/cases/${this.caseId}/drawing.png?construct=${this.construct}`;
    }
  }

  /** @param {string} id @param {string | null} html */
  #panel(id, html) {
    // Text that is the same as last time may still differ from fields the user has touched, so only drags skip it.
    if (html === null || (this.sources.get(id) === html && this.board.classList.contains("dragging"))) return;
    this.sources.set(id, html);
    const host = byId(id);
    const inside = host.contains(document.activeElement);
    patchHtml(host, html);
    // A remedy takes its own button away; the focus then stays with its panel.
    if (inside && !host.contains(document.activeElement)) host.focus({ preventScroll: true });
  }

  /** The drawing alone, in another window or room; panels stay. @param {[number, number] | null} view */
  redraw(view) {
    return this.#look({ ...this.trial(view), edit: null, panels: [], quiet: true });
  }

  /**
   * Show the case as stored. Those who follow see that nothing is tried here any more, unless it is done quietly.
   * @param {[number, number] | null} view @param {boolean} [quiet] @returns {Promise<boolean>} whether it could be
   */
  refresh(view, quiet = false) {
    return this.#look({ ...this.trial(view), edit: null, quiet });
  }

  /** @param {object} asked of a preview @returns {Promise<boolean>} whether it could be shown */
  async #look(asked) {
    const answer = await post(`${this.path}/preview`, asked).catch(() => null);
    if (answer?.ok) this.show(answer.redraw);
    return answer?.ok ?? false;
  }
}
