// @ts-check
// How much of the screen the drawing has, and which part of the bone it shows there.

const COOKIE = "fishplate-room";
const KEPT_S = 31536000;
const SETTLED_MS = 150;
const SAME_PX = 8;
const LEAST_PX = 120;
const ENDLESS_PX = 8000; // a drawing that is looked at closely is as high as it gets, and scrolled
const LOW_PX = 380;
const [LEAST_MM, MOST_MM] = [20, 1000];

/** The drawing's frame on the page. */
export class Frame {
  /** @param {import("./page.js").Page} page */
  constructor(page) {
    this.page = page;
    this.close = false;
    /** @type {[number, number] | null} the window wanted next, mm */
    this.wanted = null;
    this.asking = false;
    /** @type {[number, number]} */
    this.told = [0, 0];
    let timer = 0;
    new ResizeObserver(() => {
      if (!this.#fits()) delete page.board.dataset.room;
      clearTimeout(timer);
      timer = setTimeout(() => this.#fitRoom(), SETTLED_MS);
    }).observe(page.board);
    const first = document.cookie.match(new RegExp(`${COOKIE}=([0-9.]+),[0-9.]+,([0-9.]+)`));
    if (first) this.told = [Number(first[1]), Number(first[2])];
  }

  /** @returns {[number, number]} width and height that the screen has for the drawing, CSS px */
  get room() {
    const { clientWidth, clientHeight } = this.page.board;
    return [Math.max(LEAST_PX, clientWidth), this.close || this.low ? ENDLESS_PX : Math.max(LEAST_PX, clientHeight)];
  }

  /** @returns {boolean} whether the drawing could not be read if all of it had to be in sight: then it scrolls */
  get low() {
    return this.page.board.clientHeight < LOW_PX;
  }

  /** @returns {boolean} whether the drawing was made for the room there is */
  #fits() {
    const { clientWidth, clientHeight } = this.page.board;
    return Math.abs(this.told[0] - clientWidth) < SAME_PX && Math.abs(this.told[1] - clientHeight) < SAME_PX;
  }

  /** Have text and grips drawn for the room there is now. */
  async #fitRoom() {
    const { clientWidth, clientHeight, classList } = this.page.board;
    if (!clientWidth || classList.contains("dragging") || classList.contains("stepping")) return;
    this.#come(this.close);
    if (this.#fits()) {
      this.page.board.dataset.room = this.told.join();
      return;
    }
    this.told = [clientWidth, clientHeight];
    document.cookie = `${COOKIE}=${this.room.join()},${clientHeight}; path=/; max-age=${KEPT_S}; samesite=lax`;
    await this.page.redraw(this.page.view);
    this.page.board.dataset.room = this.told.join(); // the drawing fits this
  }

  /** All of plate and fracture. */
  fit() {
    this.#come(false);
    this.wanted = null;
    return this.page.refresh(null);
  }

  /** Some bone on either side of the fracture. */
  toFracture() {
    const found = [...this.page.board.querySelectorAll("[id^='line-'][data-value]")];
    const at = found.map((line) => Number(/** @type {SVGElement} */ (line).dataset.value));
    if (!at.length) return;
    const [low, high] = [Math.min(...at), Math.max(...at)];
    const half = Math.max(40, (high - low) / 2 + 30);
    this.show((low + high) / 2 - half, (low + high) / 2 + half);
  }

  /** @param {number} times how much larger @param {number} [about] the place that stays, mm */
  zoom(times, about) {
    const now = this.wanted ?? this.page.view;
    if (!now) return;
    const width = Math.min(MOST_MM, Math.max(LEAST_MM, (now[1] - now[0]) / times));
    const still = about ?? (now[0] + now[1]) / 2;
    const start = still - ((still - now[0]) / (now[1] - now[0])) * width;
    this.show(start, start + width);
  }

  /** @param {number} by mm, distally positive */
  pan(by) {
    const now = this.wanted ?? this.page.view;
    if (now) this.show(now[0] + by, now[1] + by);
  }

  /** Another window; the newest wins. @param {number} start @param {number} end */
  async show(start, end) {
    this.#come(true);
    this.wanted = [Number(start.toFixed(2)), Number(end.toFixed(2))];
    if (this.asking) return;
    this.asking = true;
    while (this.wanted) {
      /** @type {[number, number]} */
      const next = this.wanted;
      await this.page.redraw(next);
      if (this.wanted === next) this.wanted = null;
    }
    this.asking = false;
  }

  /** @param {boolean} close whether the drawing may be higher than its room */
  #come(close) {
    this.close = close;
    this.page.board.classList.toggle("close", close || this.low);
  }
}

/** @param {import("./page.js").Page} page @param {MouseEvent} event @returns {number} the place under the pointer, mm */
function placeOf(page, event) {
  const matrix = page.svg.getScreenCTM();
  return matrix ? (event.clientX - matrix.e) / matrix.a : 0;
}

const STEP = 1.25;
const PER_PIXEL = 0.004; // of a wheel

/**
 * Wheel with Ctrl, two fingers, `+` and `−`, buttons; empty paper is pulled.
 * @param {import("./page.js").Page} page
 */
export function zoomAndPan(page) {
  const { board, frame } = page;
  /** @type {Map<number, PointerEvent>} */
  const down = new Map();
  let pulling = false; // asked once: to look where things lie takes a layout, and a drag has no time for one

  board.addEventListener(
    "wheel",
    (event) => {
      if (!event.ctrlKey) return;
      event.preventDefault();
      frame.zoom(Math.exp(-event.deltaY * PER_PIXEL), placeOf(page, event));
    },
    { passive: false },
  );
  board.addEventListener(
    "pointerdown",
    (event) => {
      down.set(event.pointerId, event);
      pulling = onPaper(event.target);
      if (down.size === 2) board.dispatchEvent(new CustomEvent("pinch")); // what one finger held is let go
    },
    { capture: true },
  );
  board.addEventListener(
    "pointermove",
    (event) => {
      const before = down.get(event.pointerId);
      if (!before) return;
      const other = [...down.values()].find((one) => one.pointerId !== event.pointerId);
      down.set(event.pointerId, event);
      if (other) {
        const [old, now] = [before, event].map((one) => Math.hypot(one.clientX - other.clientX, one.clientY - other.clientY));
        if (old > 20 && now > 20) frame.zoom(now / old, (placeOf(page, event) + placeOf(page, other)) / 2);
        event.stopPropagation();
      } else if (pulling && event.buttons) frame.pan((before.clientX - event.clientX) / (page.svg.getScreenCTM()?.a ?? 1));
    },
    { capture: true },
  );
  for (const end of ["pointerup", "pointercancel", "pointerleave"]) {
    board.addEventListener(end, (event) => down.delete(/** @type {PointerEvent} */ (event).pointerId), { capture: true });
  }
}

/** @param {EventTarget | null} at @returns {boolean} whether nothing lies there that answers the pointer */
function onPaper(at) {
  return at instanceof Element && !at.closest("[data-drag], [data-hole]");
}

/** @param {import("./page.js").Page} page @param {string} key @returns {boolean} whether it was one of these */
export function frameKey(page, key) {
  const { frame } = page;
  if (key === "+" || key === "=") frame.zoom(STEP);
  else if (key === "-" || key === "−") frame.zoom(1 / STEP);
  else if (key === "0") frame.fit();
  else return false;
  return true;
}

/** @param {import("./page.js").Page} page @param {string} id @returns {boolean} whether it was one of these buttons */
export function frameButton(page, id) {
  const { frame } = page;
  if (id === "fit") frame.fit();
  else if (id === "to-fracture") frame.toFracture();
  else if (id === "closer") frame.zoom(STEP);
  else if (id === "farther") frame.zoom(1 / STEP);
  else return false;
  return true;
}
