// A document for the browser's modules: jsdom (MIT), which `python3 -m tests` installs beside the Python environment.
import { createRequire } from "node:module";

const { JSDOM } = createRequire(new URL("../../.venv/js/", import.meta.url))("jsdom");
const NAMES = [
  "document", "Element", "HTMLElement", "HTMLInputElement", "HTMLTextAreaElement", "HTMLSelectElement", "Node", "DocumentFragment",
];

/** Make a page of this HTML the one that modules see. @param {string} html @returns {any} its window */
export function open(html) {
  const { window } = new JSDOM(`<!doctype html><body>${html}</body>`);
  for (const name of NAMES) globalThis[name] = window[name];
  // A frame that nobody waits for must not keep the run alive.
  globalThis.requestAnimationFrame = (/** @type {() => void} */ draw) => setTimeout(draw, 16).unref();
  globalThis.addEventListener = window.addEventListener.bind(window);
  globalThis.removeEventListener = window.removeEventListener.bind(window);
  return window;
}
