// @ts-check
import { post } from "./api.js";
import { byId } from "./page.js";

/**
 * @typedef {{kind: "edits" | "undo" | "redo", edit: import("./api.js").Edit | null, view: [number, number] | null,
 *   construct: number, unsure: boolean}} Waiting
 */

const RETRY_MS = [500, 1000, 2000, 4000, 8000];
/** Edits that put something in or take something out: made twice, they do it twice. */
const ONCE = /^(add|remove)_|^together$|^replace_/;

/** Writes, one after another, each on the version that the one before made. Nothing is dropped when the network is. */
export class Commits {
  /** @param {import("./page.js").Page} page */
  constructor(page) {
    this.page = page;
    this.key = `fishplate-waiting-${page.caseId}`;
    /** @type {Waiting[]} */
    this.queue = this.#kept();
    this.running = false;
    /** @type {((ok: boolean) => void)[]} */
    this.listeners = [];
    if (this.queue.length) this.#run();
  }

  /** @returns {boolean} whether everything is written */
  get idle() {
    return this.queue.length === 0;
  }

  /**
   * @param {import("./api.js").Edit} edit
   * @param {[number, number] | null} view the window to keep; null fits the drawing anew
   */
  edit(edit, view) {
    this.#add({ kind: "edits", edit, view, construct: this.page.construct, unsure: false });
  }

  /** @param {"undo" | "redo"} kind */
  history(kind) {
    this.#add({ kind, edit: null, view: this.page.view, construct: this.page.construct, unsure: false });
  }

  /** @param {Waiting} waiting */
  #add(waiting) {
    this.queue.push(waiting);
    this.#keep();
    if (!this.running) this.#run();
  }

  async #run() {
    this.running = true;
    let failures = 0;
    while (this.queue.length) {
      const next = this.queue[0];
      try {
        await this.#write(next);
        failures = 0;
        this.queue.shift();
        this.#keep();
        this.#offline("");
      } catch {
        next.unsure = true;
        this.#keep();
        this.#offline(`The server doesn’t answer. ${this.queue.length} change(s) kept here; trying again.`);
        await new Promise((resolve) => setTimeout(resolve, RETRY_MS[Math.min(failures, RETRY_MS.length - 1)]));
        failures += 1;
      }
    }
    this.running = false;
  }

  /** Rejects if no answer came. @param {Waiting} next */
  async #write(next) {
    let answer = await this.#post(next, this.page.version);
    if (!answer.ok && answer.status === 412 && answer.version !== null) {
      this.page.version = answer.version;
      // The lost answer may have been a yes. What would do harm when done twice is looked at instead of sent again.
      const twice = next.unsure && (next.kind !== "edits" || ONCE.test(next.edit?.op ?? ""));
      if (twice || next.kind !== "edits") {
        await this.page.refresh(next.view);
        this.page.say("The case had changed elsewhere; this is how it is now.");
        return;
      }
      answer = await this.#post(next, answer.version);
    }
    if (!answer.ok && answer.status >= 500) throw new Error(answer.problem.error);
    if (answer.ok) {
      this.page.show(answer.redraw);
      this.page.say(answer.redraw.status);
    } else {
      await this.page.refresh(this.page.view);
      this.page.say(refusal(answer.problem));
    }
  }

  /** @param {Waiting} next @param {number} version */
  #post(next, version) {
    const where = { ...this.page.where(next.view), construct: next.construct };
    const body = next.kind === "edits" ? { ...where, edit: next.edit } : where;
    return post(`${this.page.path}/${next.kind}`, body, version);
  }

  /** @param {string} sentence */
  #offline(sentence) {
    const place = byId("connection");
    place.hidden = !sentence;
    if (place.textContent !== sentence) place.textContent = sentence;
  }

  #keep() {
    try {
      if (this.queue.length) sessionStorage.setItem(this.key, JSON.stringify(this.queue));
      else sessionStorage.removeItem(this.key);
    } catch {
      // Without storage a reload while offline would lose what waits; there is nothing better to do.
    }
  }

  /** @returns {Waiting[]} what a reload left unwritten; it may have been written after all */
  #kept() {
    try {
      const kept = JSON.parse(sessionStorage.getItem(this.key) ?? "[]");
      return kept.map((/** @type {Waiting} */ waiting) => ({ ...waiting, unsure: true }));
    } catch {
      return [];
    }
  }
}

/** @param {import("./api.js").Problem} problem @returns {string} why an edit was refused, without the document's paths */
export function refusal(problem) {
  const reason = problem.faults[0]?.message;
  return reason ? `Not changed: ${reason}.` : problem.error;
}
