// @ts-check
import { post } from "../lib/api.js";
import { numberIn, numberOf, rangeOf } from "../lib/number.js";
import { refusal } from "./commits.js";
import { byId } from "./page.js";

/**
 * @typedef {{construct: number, stage: string, axial_n?: number, bending_nm?: number, torsion_nm?: number,
 *   proximal: string, distal: string}} Load
 */

const OWN = ["axial_n", "bending_nm", "torsion_nm"];

/** @param {string} name @returns {HTMLInputElement | HTMLSelectElement} */
function field(name) {
  return /** @type {HTMLInputElement | HTMLSelectElement} */ (byId(`c-load-${name}`));
}

/**
 * The load that the construct is looked at under. It is no part of the case: the address keeps it, every request carries it.
 * @param {import("./page.js").Page} page
 */
export function listenToLoads(page) {
  const panel = byId("panel-mechanics");

  /** @returns {Load} what the form says now; figures count only as one's own */
  function chosen() {
    const stage = field("stage").value;
    const own = stage === "own" ? Object.fromEntries(OWN.map((name) => [name, numberIn(field(name).value)])) : {};
    const [proximal, distal] = [field("proximal").value, field("distal").value];
    return { construct: page.construct, stage, ...own, proximal, distal };
  }

  /** @param {Load | null} load null: the preset that stands where nothing is chosen */
  async function look(load) {
    const before = page.loading;
    const others = before.filter((/** @type {Load} */ one) => one.construct !== page.construct);
    page.loading = load ? [...others, load] : others;
    const answer = await post(`${page.path}/preview`, { ...page.trial(page.view), edit: null }).catch(() => null);
    if (answer?.ok) {
      page.show(answer.redraw);
      return;
    }
    page.loading = before;
    page.say(answer ? refusal(answer.problem) : "The server doesn’t answer; the load is as it was.");
    await page.refresh(page.view);
  }

  panel.addEventListener("change", (event) => {
    const changed = event.target;
    if (!(changed instanceof HTMLInputElement || changed instanceof HTMLSelectElement) || !changed.dataset.load) return;
    changed.removeAttribute("data-dirty");
    if (changed instanceof HTMLInputElement) {
      if (numberOf(changed) === null) {
        if (changed.value.trim()) page.say(rangeOf(changed));
        changed.value = changed.defaultValue;
        return;
      }
      field("stage").value = "own";
    }
    look(chosen());
  });
  panel.addEventListener("submit", (event) => event.preventDefault());
  panel.addEventListener("click", (event) => {
    if (/** @type {Element} */ (event.target).closest("[data-load-reset]")) look(null);
  });

  /** The address says what is looked at, so that a reload shows the same. */
  function keepInAddress() {
    const query = page.loads;
    const wanted = `?construct=${page.construct}${query}`;
    if (location.search !== wanted && (query || location.search.includes("loading="))) {
      history.replaceState(null, "", `${location.pathname}${wanted}`);
    }
  }
  page.after.push(keepInAddress);
}
