// @ts-check
import { filled, post } from "../lib/api.js";
import { refusal } from "./commits.js";
import { LIVE, byId } from "./page.js";

const SOON_MS = 30;

/** @typedef {{field: string, start: number}} Reach a figure that goes as far as it can, and where it stood */

/**
 * One value being changed, by pointer or by keys: the handle follows at once, the server's picture as fast as it
 * comes, and only the end is written.
 */
export class Gesture {
  /**
   * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits
   * @param {SVGElement} handle
   */
  constructor(page, commits, handle) {
    this.page = page;
    this.commits = commits;
    this.id = handle.id;
    this.handle = handle;
    this.template = handle.dataset.edit ?? "{}";
    this.field = handle.dataset.field ?? "";
    this.from = Number(handle.dataset.value);
    this.value = this.from; // where the handle is to be
    this.aimed = this.from; // where the hand is: farther, where the server stops the handle
    this.drawn = this.from;
    this.min = Number(handle.dataset.min);
    this.max = Number(handle.dataset.max);
    this.step = Number(handle.dataset.step) || 1;
    /** @type {Reach} */
    this.reach = { field: this.field, start: this.from };
    this.stopped = ""; // why it went no further, in the server’s words
    this.view = page.view;
    page.live.open();
    this.base = handle.getAttribute("transform") ?? "";
    this.sending = false;
    this.asked = 0;
    this.keepingUp = false;
    this.shared = false;
    this.over = false;
    this.anew = false;
    this.dropped = false;
    this.parting = () => {
      this.cancel();
      if (this.shared) this.#nothingTried();
    };
    addEventListener("pagehide", this.parting);
    this.before = page.svg.outerHTML;
    /** @type {any} what the panels showed */
    this.panels = Object.fromEntries(LIVE.map((name) => [name, byId(`panel-${name}`).innerHTML]));
    page.board.classList.add("dragging");
    this.onSight = () => {
      this.anew = true;
      this.#send();
    };
    page.onSight = this.onSight;
  }

  /** @param {number} value the value wanted; it is kept within range and on the step */
  set(value) {
    this.aim(value);
    this.#follow();
  }

  /** The same, but the handle may wait for the picture that brings it along. @param {number} value */
  aim(value) {
    const stepped = Math.round(value / this.step) * this.step;
    this.value = this.aimed = Number(Math.min(this.max, Math.max(this.min, stepped)).toFixed(4));
    this.#send();
    if (!this.keepingUp) this.#keepUp();
  }

  /** Move the handle by itself if the picture is late; a frame spent on that would hold up a picture about to come. */
  #keepUp() {
    this.keepingUp = !this.over && this.value !== this.drawn;
    if (!this.keepingUp) {
      if (!this.over) this.#follow();
      return;
    }
    const soon = this.asked + SOON_MS - performance.now();
    if (this.sending && soon > 0) {
      setTimeout(() => this.#keepUp(), soon);
      return;
    }
    this.#follow();
    if (this.sending) requestAnimationFrame(() => this.#keepUp());
    else this.keepingUp = false;
  }

  /** Write the value reached. */
  finish() {
    if (this.over) return;
    this.#end();
    if (this.value === this.from) {
      this.#restore();
      if (this.stopped) this.page.say(this.stopped);
    } else this.commits.edit(filled(this.template, this.field, this.aimed), this.view, this.reach);
  }

  /** Back to where it was; nothing is written. */
  cancel() {
    if (this.over) return;
    this.#end();
    this.#restore();
  }

  #end() {
    this.over = true;
    removeEventListener("pagehide", this.parting);
    if (this.page.onSight === this.onSight) this.page.onSight = null;
    this.page.board.classList.remove("dragging");
  }

  #restore() {
    this.dropped = true;
    if (this.shared && !this.sending) this.#nothingTried();
    this.page.show({
      seq: (this.page.sequence += 1),
      version: this.page.version,
      construct: this.page.construct,
      drawing: this.before,
      panels: { screws: null, order: null, setup: null, head: null, ...this.panels },
      status: "",
    });
  }

  /** Those who follow must not be left with a picture of what was given up; after the last preview, not before. */
  #nothingTried() {
    this.shared = false;
    post(`${this.page.path}/preview`, { ...this.page.trial(this.view), edit: null }, null, true).catch(() => null);
  }

  /** Move the handle by what the picture is behind, in the picture's own units (mm). */
  #follow() {
    const handle = document.getElementById(this.id) ?? this.handle;
    const behind = this.value - this.drawn;
    const { drag, gain, pivot } = handle.dataset;
    const move =
      drag === "lean"
        ? `rotate(${-behind} ${(pivot ?? "0,0").replace(",", " ")})`
        : `translate(${behind / (Number(gain) || 1)} 0)`;
    const wanted = behind ? `${move} ${this.base}`.trim() : this.base;
    if ((handle.getAttribute("transform") ?? "") === wanted) return;
    if (wanted) handle.setAttribute("transform", wanted);
    else handle.removeAttribute("transform");
    handle.toggleAttribute("data-moved", behind !== 0);
  }

  /** Ask for the picture of the newest value; one request at a time, what comes meanwhile waits. */
  async #send() {
    if (this.sending) return;
    this.sending = true;
    let asked = NaN;
    while (!this.over && (this.anew || asked !== this.value)) {
      asked = this.value;
      this.anew = false;
      // While an edit is being written, a preview would show the case without it.
      if (!this.commits.idle) {
        await new Promise((resolve) => setTimeout(resolve, 16));
        asked = NaN;
        continue;
      }
      const edit = filled(this.template, this.field, asked);
      const { version, livePanels } = this.page;
      const body = { ...this.page.trial(this.view), edit, reach: this.reach, version, panels: livePanels };
      this.shared = true;
      this.asked = performance.now();
      const answer = await this.page.live.preview(body, () => !this.over).catch(() => null);
      if (this.over || !answer) break;
      if (answer.ok) {
        this.page.show(answer.redraw);
        // Where the server stops, the hand’s value does too; going on that way changes nothing until it turns back.
        this.drawn = answer.redraw.reached ?? asked;
        this.stopped = this.drawn === asked ? "" : answer.redraw.status;
        if (this.value === asked) this.value = asked = this.drawn;
        this.base = document.getElementById(this.id)?.getAttribute("transform") ?? "";
        this.#follow();
      } else if (answer.status === 422) {
        this.page.say(refusal(answer.problem));
      }
    }
    this.sending = false;
    if (this.dropped && this.shared) this.#nothingTried();
  }
}
