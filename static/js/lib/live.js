// @ts-check
import { post } from "./api.js";

const TIMEOUT_MS = 5000;
const AGAIN_MS = 60000;

/**
 * Previews over one WebSocket, opened when something is taken hold of: a request of its own takes twice as long.
 * Where there is no line, or none yet, they go as requests.
 */
export class Live {
  /** @param {string} path of the case in the API */
  constructor(path) {
    this.path = path;
    /** @type {WebSocket | null} */
    this.socket = null;
    this.failed = -Infinity;
    /** @type {((data: any) => void)[]} those who wait for an answer; answers come in the order of asking */
    this.waiting = [];
    /** @type {string[]} the drawing told last on this line; the next answer says only what is new in it */
    this.drawing = [];
    addEventListener("pagehide", () => this.socket?.close());
  }

  /** Have a line ready for what is asked soon. */
  open() {
    if (this.socket || performance.now() - this.failed < AGAIN_MS) return;
    const address = new URL(`${this.path}/live`, location.href);
    address.protocol = address.protocol.replace("http", "ws");
    let socket;
    try {
      socket = new WebSocket(address);
    } catch {
      this.failed = performance.now(); // a browser whose policy takes this for another site
      return;
    }
    let opened = false;
    socket.addEventListener("open", () => (opened = true));
    socket.addEventListener("message", (event) => this.waiting.shift()?.(this.#told(event.data)));
    socket.addEventListener("close", () => {
      if (!opened) this.failed = performance.now();
      if (this.socket === socket) this.#lose();
    });
    this.socket = socket;
  }

  /**
   * What the case would look like. Rejects only if no answer came, or none was wanted any more.
   * @param {object} body of a preview @param {() => boolean} wanted @returns {Promise<import("./api.js").Answer>}
   */
  async preview(body, wanted) {
    const data = this.socket?.readyState === WebSocket.OPEN ? await this.#ask(JSON.stringify(body)) : null;
    // Those who follow must not be shown again what is over meanwhile.
    if (data === null && !wanted()) throw new Error("the line was lost, and nobody waits any more");
    if (data === null) return post(`${this.path}/preview`, body);
    return data.error ? { ok: false, status: data.status, problem: data, version: null } : { ok: true, redraw: data };
  }

  /** @param {string} text @returns {any} the answer, with its drawing whole */
  #told(text) {
    const data = JSON.parse(text);
    if (data.error) return data;
    if (data.lines) {
      this.drawing = [...this.drawing];
      for (const number in data.lines) this.drawing[Number(number)] = data.lines[number];
    } else this.drawing = data.drawing.split("\n");
    data.drawing = this.drawing;
    return data;
  }

  /** @param {string} question @returns {Promise<any>} null if the line was lost meanwhile */
  #ask(question) {
    return new Promise((resolve) => {
      const timer = setTimeout(() => {
        this.failed = performance.now(); // open, but nothing comes through
        this.#lose();
      }, TIMEOUT_MS);
      this.waiting.push((data) => {
        clearTimeout(timer);
        resolve(data);
      });
      this.socket?.send(question);
    });
  }

  #lose() {
    const { socket, waiting } = this;
    this.socket = null;
    this.waiting = [];
    this.drawing = [];
    socket?.close();
    for (const answer of waiting) answer(null);
  }
}
