// @ts-check

/**
 * @typedef {{version: number, construct: number, edit: object | null, seq: number, hand?: string}} Tried
 * @typedef {{version: (version: number) => void, preview: (tried: Tried) => void, pins: () => void,
 *   connected: (on: boolean) => void}} Listener
 */

const AGAIN_MS = 2000;
const SELDOM_MS = 30000;

/**
 * Hear of every change of a case. A dropped connection comes back by itself, and begins with the version as it stands.
 * @param {string} address of the events @param {Listener} listener
 * @param {boolean} [whileSeen] only as long as the page is seen: a browser opens few connections to one place, and
 *   windows in the background would take them all
 */
export function follow(address, listener, whileSeen = false) {
  /** @type {EventSource | null} */
  let source = null;
  let timer = 0;
  let wait = AGAIN_MS;

  function open() {
    source?.close();
    source = new EventSource(address);
    source.addEventListener("version", (event) => {
      wait = AGAIN_MS;
      listener.connected(true);
      listener.version(JSON.parse(event.data).version);
    });
    source.addEventListener("preview", (event) => listener.preview(JSON.parse(event.data)));
    source.addEventListener("pins", () => listener.pins());
    source.addEventListener("error", () => {
      listener.connected(false);
      // The browser tries again after a broken line, and gives up after an answer it doesn't like; we don't.
      if (source?.readyState !== EventSource.CLOSED) return;
      clearTimeout(timer);
      timer = setTimeout(open, wait);
      wait = Math.min(SELDOM_MS, wait * 1.5); // a server that is full is not asked ever faster
    });
  }

  if (whileSeen) {
    document.addEventListener("visibilitychange", () => {
      clearTimeout(timer);
      if (document.hidden) source?.close();
      else open();
    });
  }
  addEventListener("pagehide", () => source?.close());
  addEventListener("pageshow", (event) => event.persisted && open());
  open();
}
