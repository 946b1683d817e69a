// @ts-check
import { newKey, post } from "../lib/api.js";
import { byId, undoLabel } from "./page.js";

/**
 * @typedef {{kind: "edits" | "undo" | "redo", edit: import("../lib/api.js").Edit | null, reach?: import("./gesture.js").Reach | null, view: [number, number] | null,
 *   construct: number, key: string}} Waiting
 * @typedef {{done: true} | {done: false, why: string, useless?: boolean}} Outcome `useless`: trying again alone won’t help
 */

const RETRY_MS = [500, 1000, 2000, 4000, 8000];
const TRIES = RETRY_MS.length + 1;
/** How often an edit is put upon what others write meanwhile. */
const REBASES = 5;
const SIGN_IN = 401;

/**
 * Writes, one after another, each on the version that the one before made. What the server may have written without our
 * hearing of it is sent again with the same key, and so happens once. Nothing is dropped when the network is: after some
 * tries the page stops and says so, and goes on when it is told to, or when the next change is made.
 */
export class Commits {
  /** @param {import("./page.js").Page} page */
  constructor(page) {
    this.page = page;
    this.storageKey = `fishplate-waiting-${page.caseId}`;
    /** @type {Waiting[]} */
    this.queue = this.#kept();
    this.running = false;
    /** @type {((idle: boolean) => void)[]} those who wait until everything is written, or no more is tried */
    this.waiters = [];
    addEventListener("online", () => this.#start());
    this.#start();
  }

  /** @returns {boolean} whether everything is written */
  get idle() {
    return this.queue.length === 0;
  }

  /** @returns {Promise<boolean>} whether everything is written, as soon as it is, or as no more is tried */
  settled() {
    if (!this.running) return Promise.resolve(this.idle);
    return new Promise((resolve) => this.waiters.push(resolve));
  }

  /**
   * @param {import("../lib/api.js").Edit} edit
   * @param {[number, number] | null} view the window to keep; null fits the drawing anew
   * @param {import("./gesture.js").Reach | null} reach the figure that may stop on its way
   */
  edit(edit, view, reach = null) {
    this.#add({ kind: "edits", edit, reach, view, construct: this.page.construct, key: newKey() });
  }

  /** @param {"undo" | "redo"} kind */
  history(kind) {
    this.#add({ kind, edit: null, view: this.page.view, construct: this.page.construct, key: newKey() });
  }

  /** @param {Waiting} waiting */
  #add(waiting) {
    this.queue.push(waiting);
    this.#keep();
    this.#start();
  }

  #start() {
    if (!this.running && this.queue.length) this.#run();
  }

  async #run() {
    this.running = true;
    this.page.mark("saving");
    let failures = 0;
    while (this.queue.length) {
      /** @type {Outcome} */
      const outcome = await this.#write(this.queue[0]).catch(() => ({ done: false, why: "The server doesn’t answer." }));
      if (outcome.done) {
        failures = 0;
        this.queue.shift();
        this.#keep();
        this.#tell("");
        continue;
      }
      failures += 1;
      this.page.mark("kept");
      if (failures >= TRIES || outcome.useless) {
        this.#tell(`${outcome.why} ${this.#waiting()} to be written: when the server is back, press “Try again”, or take them home as a file.`, true);
        break;
      }
      this.#tell(`${outcome.why} ${this.#waiting()} to be written; trying again.`);
      await new Promise((resolve) => setTimeout(resolve, RETRY_MS[failures - 1]));
    }
    this.running = false;
    this.page.mark(this.idle ? "saved" : "kept");
    for (const tell of this.waiters.splice(0)) tell(this.idle);
  }

  /** @returns {string} */
  #waiting() {
    return this.queue.length === 1 ? "1 change is kept in this tab" : `${this.queue.length} changes are kept in this tab`;
  }

  /** Rejects if no answer came. @param {Waiting} next @returns {Promise<Outcome>} */
  async #write(next) {
    let answer = await this.#post(next, this.page.version);
    let met = "";
    for (let times = 0; !answer.ok && answer.status === 412 && answer.version !== null && times < REBASES; times++) {
      // Somebody else wrote meanwhile, and this is surely not written: the server looks at the key before the version.
      this.page.version = answer.version;
      if (next.kind !== "edits") {
        await this.page.refresh(next.view);
        this.page.say("The case had changed elsewhere; this is how it is now.");
        return { done: true };
      }
      const since = answer.version;
      await this.page.refresh(next.view, true);
      met = ` It was made upon what came from elsewhere meanwhile: ${undoLabel() || "another change"}.`;
      answer = await this.#post(next, since);
    }
    if (answer.ok) {
      this.page.show(answer.redraw);
      this.page.moveTo(answer.redraw); // also where nothing could be drawn
      this.page.say(answer.redraw.status + met);
      return { done: true };
    }
    const { status, problem } = answer;
    if (status === SIGN_IN) return { done: false, why: `${problem.error} Do so in another tab, then come back.`, useless: true };
    if (status === 412) return { done: false, why: problem.error }; // others write without a pause
    if (status < 500 || problem.written === true) {
      await this.page.refresh(this.page.view);
      this.page.say(status < 500 ? refusal(problem) : problem.error);
      return { done: true };
    }
    return { done: false, why: problem.error };
  }

  /** @param {Waiting} next @param {number} version */
  #post(next, version) {
    const where = { ...this.page.where(next.view), construct: next.construct };
    const body = next.kind === "edits" ? { ...where, edit: next.edit, reach: next.reach ?? null } : where;
    return post(`${this.page.path}/${next.kind}`, body, { version, key: next.key });
  }

  /** @param {string} sentence @param {boolean} stopped whether it is for the user to go on */
  #tell(sentence, stopped = false) {
    const place = byId("connection");
    place.hidden = !sentence;
    if (place.firstChild?.textContent !== sentence || stopped) place.textContent = sentence;
    if (!stopped) return;
    const again = document.createElement("button");
    again.type = "button";
    again.id = "write-again";
    again.textContent = "Try again";
    again.addEventListener("click", () => this.#start());
    const file = document.createElement("a");
    file.className = "button";
    file.id = "waiting-file";
    file.download = "unwritten-changes.json";
    file.href = `data:application/json,${encodeURIComponent(JSON.stringify(this.queue.map(({ kind, edit }) => edit ?? { op: kind }), null, 2))}`;
    file.textContent = "Save them as a file";
    place.append(" ", again, " ", file);
  }

  #keep() {
    try {
      if (this.queue.length) sessionStorage.setItem(this.storageKey, JSON.stringify(this.queue));
      else sessionStorage.removeItem(this.storageKey);
    } catch {
      // Without storage a reload while offline would lose what waits; there is nothing better to do.
    }
  }

  /** @returns {Waiting[]} what a reload left unwritten; it may have been written after all, and then its key tells */
  #kept() {
    try {
      const kept = JSON.parse(sessionStorage.getItem(this.storageKey) ?? "[]");
      return kept.filter((/** @type {Waiting} */ waiting) => waiting.key);
    } catch {
      return [];
    }
  }
}

/** @param {import("../lib/api.js").Problem} problem @returns {string} why an edit was refused, without the document's paths */
export function refusal(problem) {
  const reason = problem.faults[0]?.message;
  return reason ? `Not changed: ${reason}.` : problem.error;
}
