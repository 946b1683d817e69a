// @ts-check
/**
 * The warnings a page at a time: as many as there is room for, the graver ones first, notes on pages of their own
 * since from the back row they are too much to read beside the others. Nothing is cut off in the middle.
 */
export class WarningPages {
  #page = 0;
  #pages = 1;
  /** @param {HTMLElement} words the region that holds them @param {() => void} told called when the count of pages changed */
  constructor(words, told) {
    this.words = words;
    this.told = told;
    new ResizeObserver(() => this.fit()).observe(words);
    // A tall screen and paper have room for all: there the page is as long as it takes.
    this.unlimited = ["(max-aspect-ratio: 1/1)", "print"].map((query) => matchMedia(query));
    for (const query of this.unlimited) query.addEventListener("change", () => this.fit());
  }

  /** How many there are. */
  get count() {
    return this.#pages;
  }

  /** The page after this one, after the last the first. @returns {string} what is on it, in words */
  next() {
    this.#page = (this.#page + 1) % this.#pages;
    this.fit();
    return [...this.words.querySelectorAll("#told-list > li:not([hidden])")].map((item) => item.textContent?.trim()).join(" ");
  }

  /** Show what the page has room for, and say what else there is. */
  fit() {
    const items = /** @type {HTMLElement[]} */ ([...this.words.querySelectorAll("#told-list > li")]);
    const where = this.words.querySelector("#told-where");
    if (!where) return this.#turn(1);
    if (this.unlimited.some((query) => query.matches)) {
      for (const item of items) item.hidden = false;
      where.textContent = "";
      return this.#turn(1);
    }
    const pages = this.#laidOut(items, /** @type {HTMLElement} */ (where));
    this.#page = Math.min(this.#page, pages.length - 1);
    const shown = pages[this.#page];
    this.words.classList.toggle("alone", this.#page > 0 && !pages[0].length);
    for (const [index, item] of items.entries()) item.hidden = !shown.includes(index);
    where.textContent = this.#place(items, shown);
    this.#turn(pages.length);
  }

  /** @param {HTMLElement[]} items @param {HTMLElement} where @returns {number[][]} the indices on each page */
  #laidOut(items, where) {
    for (const item of items) item.hidden = false;
    this.words.classList.remove("alone");
    where.textContent = "1 to 2 of 3"; // its line is kept free
    const words = this.words.getBoundingClientRect();
    const list = items[0].getBoundingClientRect().top;
    const told = this.words.querySelector("#told")?.getBoundingClientRect().top ?? list;
    const line = where.getBoundingClientRect().height * 1.4;
    let room = this.words.clientHeight - (list - words.top + this.words.scrollTop) - line;
    /** @type {number[][]} */
    const pages = [[]];
    let used = 0;
    // Where the step or the figures leave no room for one of them, the warnings have the pages after that to themselves.
    if (items.some((item) => item.getBoundingClientRect().height > room)) {
      room = this.words.clientHeight - (list - told) - line;
      if (items.length && !isNote(items[0])) pages.push([]);
    }
    for (const [index, item] of items.entries()) {
      const height = item.getBoundingClientRect().height;
      const turns = isNote(item) && !isNote(items[index - 1]); // before the first note, too: the first page may be bare
      if (turns || (used + height > room && pages[pages.length - 1].length)) {
        pages.push([]);
        used = 0;
      }
      pages[pages.length - 1].push(index);
      used += height;
    }
    return pages;
  }

  /** @param {HTMLElement[]} items @param {number[]} shown @returns {string} */
  #place(items, shown) {
    if (!shown.length) return counted(items);
    if (shown.length === items.length) return "";
    const [first, last] = [shown[0] + 1, shown[shown.length - 1] + 1];
    return first === last ? `${first} of ${items.length}` : `${first} to ${last} of ${items.length}`;
  }

  /** @param {number} pages */
  #turn(pages) {
    const changed = pages !== this.#pages;
    this.#pages = pages;
    if (changed) this.told();
  }
}

/** @param {HTMLElement | undefined} item */
function isNote(item) {
  return item?.classList.contains("level-note") ?? false;
}

/** @param {HTMLElement[]} items @returns {string} */
function counted(items) {
  const kind = items.every(isNote) ? "note" : "warning";
  return items.length === 1 ? `1 ${kind}` : `${items.length} ${kind}s`;
}
