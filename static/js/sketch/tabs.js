// @ts-check
import { byId } from "./page.js";

const KEY = "fishplate-panel";
/** As in workbench.css: board and panels on top of each other. */
export const STACKED = "(orientation: portrait), (max-width: 43.99rem)";

/** Panels are one tap or key away, and the one that was open last is there again. @returns {{open: (name: string) => void, reach: (name: string) => void, key: (key: string) => boolean}} */
export function tabs() {
  const links = /** @type {HTMLAnchorElement[]} */ ([...byId("tabs").querySelectorAll("a")]);

  /** @param {string} name @param {boolean} [asked] whether somebody asked for it just now */
  function open(name, asked = true) {
    if (!links.some((link) => link.dataset.to === name)) return;
    document.body.dataset.panel = name;
    // Where what is at hand has a column of its own, it has no tab, and the first panel beside it is the one in sight.
    const marked = name === "at-hand" && !byId("to-at-hand").getClientRects().length ? "set-up" : name;
    for (const link of links) {
      if (link.dataset.to === marked) link.setAttribute("aria-current", "true");
      else link.removeAttribute("aria-current");
    }
    if (!asked) {
      if (name !== "at-hand") reach(name);
      return;
    }
    try {
      localStorage.setItem(KEY, name);
    } catch {
      // It is not remembered then.
    }
    reach(name);
    if (byId(name).dataset.whole !== undefined && matchMedia(STACKED).matches) byId(name).scrollIntoView();
    /** @type {HTMLElement | null} */ (byId(name).querySelector("[tabindex]"))?.focus({ preventScroll: true });
  }

  /** Scroll what the panel lies in, and not the page: the board stays, unless a panel takes the page as a whole. @param {string} name */
  function reach(name) {
    const panel = byId(name);
    for (let host = panel.parentElement; host; host = host.parentElement) {
      if (host === document.body) return;
      if (host.scrollHeight <= host.clientHeight || !/auto|scroll/.test(getComputedStyle(host).overflowY)) continue;
      host.scrollTop += panel.getBoundingClientRect().top - host.getBoundingClientRect().top;
      return;
    }
  }

  byId("tabs").addEventListener("click", (event) => {
    const link = /** @type {Element} */ (event.target).closest("a");
    if (!link?.dataset.to) return;
    event.preventDefault();
    open(link.dataset.to);
  });
  let last = "at-hand";
  try {
    last = localStorage.getItem(KEY) ?? last;
  } catch {
    // Nothing is remembered.
  }
  open(location.hash.slice(1) || last, false);
  return {
    open,
    reach,
    key: (key) => {
      const link = links.find((one) => one.getAttribute("aria-keyshortcuts") === key);
      if (link?.dataset.to) open(link.dataset.to);
      return Boolean(link);
    },
  };
}
