// @ts-check
import { patchHtml } from "../lib/patch.js";

const TIMEOUT_MS = 15000;
const NAME = "map";

/**
 * The map of layouts in place of the words, for those who stand far off. It follows what is written, not a drag.
 * @param {HTMLElement} words @param {HTMLElement} place
 * @param {() => string} wanted what the map is asked for: bone and variant, as a query
 * @param {() => number} version the version that is shown
 * @param {string} address where maps are asked for
 */
export function roomMap(words, place, wanted, version, address) {
  let shownFor = "";

  async function renew() {
    if (place.hidden) return "";
    const key = `${version()} ${wanted()}`;
    if (key === shownFor) return told();
    const signal = AbortSignal.timeout(TIMEOUT_MS);
    const answer = await fetch(`${address}?${wanted()}`, { signal }).catch(() => null);
    if (key !== `${version()} ${wanted()}`) return renew();
    if (!answer?.ok) return "The server gave no map of layouts; press again to try again.";
    shownFor = key;
    patchHtml(place, await answer.text());
    return told();
  }

  /** @returns {string} */
  function told() {
    return [...place.querySelectorAll("#room-now, #room-spared")].map((one) => one.textContent?.trim()).join(" ");
  }

  /** @returns {boolean} */
  function on() {
    return !place.hidden;
  }

  /** @returns {Promise<string>} what is told of it */
  async function toggle() {
    [words.hidden, place.hidden] = [place.hidden, words.hidden];
    if (!on()) return "The map is put away.";
    const said = await renew();
    place.scrollIntoView({ block: "nearest" });
    return said;
  }

  if (new URLSearchParams(location.search).has(NAME)) [words.hidden, place.hidden] = [true, false];
  return { renew, toggle, on };
}
