// @ts-check
import { get } from "../lib/api.js";
import { byId } from "./page.js";
import { patchSvg } from "../lib/patch.js";

const TIMES = 5;

/**
 * Steps through the order: the drawing shows the state after each step, drawn by the server.
 * @param {import("./page.js").Page} page
 */
export function stepThrough(page) {
  const slider = /** @type {HTMLInputElement} */ (byId("step-slider"));
  const enlarged = /** @type {HTMLInputElement} */ (byId("step-times"));
  const leave = byId("step-leave");
  const said = byId("step-said"); // beside the picture; the live region below it says the same
  const hint = said.textContent;
  let shown = 0; // 0: the plan, which is the sketch itself
  let wanted = 0;
  let asking = false;
  let round = 0; // answers asked for in an earlier round are stale: the sketch came back, or the scale changed

  const count = () => Number(byId("step-list").dataset.steps);

  function showPlace() {
    slider.max = String(count());
    slider.value = String(wanted);
    const place = wanted ? `step ${wanted} of ${count()}` : "plan";
    slider.setAttribute("aria-valuetext", place);
    byId("step-where").textContent = place;
    byId("step-back").setAttribute("aria-disabled", String(wanted === 0));
    byId("step-on").setAttribute("aria-disabled", String(wanted === count()));
    if (wanted === 0 && document.activeElement === leave) slider.focus();
    leave.hidden = wanted === 0;
    if (wanted === 0) said.textContent = hint;
    page.board.classList.toggle("stepping", wanted > 0);
    for (const row of byId("step-list").children) {
      if (Number(/** @type {HTMLElement} */ (row).dataset.number) === wanted) row.setAttribute("aria-current", "step");
      else row.removeAttribute("aria-current");
    }
  }

  /** @param {number} step */
  function go(step) {
    const next = Math.max(0, Math.min(count(), step));
    if (next === wanted && next === shown) return;
    wanted = next;
    showPlace();
    ask();
  }

  /** One request at a time; the newest place wins. */
  async function ask() {
    if (asking) return;
    asking = true;
    while (wanted !== shown) {
      const [step, begun] = [wanted, round];
      if (step === 0) {
        await page.refresh(page.view); // ends here through page.after
        page.say("Back to the sketch.");
        break;
      }
      const answer = await get(address(step)).catch(() => null);
      if (begun !== round) continue;
      if (!answer) {
        page.say("The server doesn’t answer; this step can’t be shown.");
        wanted = shown;
        showPlace();
        break;
      }
      if (page.board.classList.contains("dragging")) {
        wanted = shown = 0; // a drag begun meanwhile shows the sketch
        showPlace();
        break;
      }
      shown = step;
      if (step !== wanted) continue;
      patchSvg(page.svg, answer.drawing);
      page.say(`Step ${step} of ${answer.steps}. ${answer.what} ${answer.sentence}`);
      said.textContent = `${answer.what} ${answer.sentence}`;
    }
    asking = false;
  }

  /** @param {number} step */
  function address(step) {
    const times = enlarged.checked ? TIMES : 1;
    const view = page.view ? `&view=${page.view.join(",")}` : "";
    return `${page.path}/steps/${step}?construct=${page.construct}&times=${times}&room=${page.frame.room.join(",")}${view}`;
  }

  page.after.push(() => {
    round += 1;
    shown = 0;
    wanted = 0;
    showPlace();
  });

  byId("stepper").addEventListener("click", (event) => {
    const button = /** @type {Element} */ (event.target).closest("button");
    if (button?.id === "step-back") go(wanted - 1);
    else if (button?.id === "step-on") go(wanted + 1);
    else if (button === leave) go(0);
  });
  byId("stepper").addEventListener("keydown", (event) => {
    if (event.target === slider || event.altKey || event.ctrlKey || event.metaKey) return;
    const by = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1 }[event.key];
    if (by === undefined && event.key !== "Escape") return;
    event.preventDefault();
    go(by === undefined ? 0 : wanted + by);
  });
  slider.addEventListener("keydown", (event) => {
    if (event.key === "Escape") go(0);
  });
  slider.addEventListener("input", () => go(Number(slider.value)));
  enlarged.addEventListener("change", () => {
    if (wanted === 0) return;
    round += 1;
    shown = -1; // the same step, drawn anew
    ask();
  });
  byId("panel-order").addEventListener("click", (event) => {
    const button = /** @type {Element} */ (event.target).closest("[data-show-step]");
    if (!(button instanceof HTMLElement)) return;
    go(Number(button.dataset.showStep));
    byId("stepper").scrollIntoView({ block: "start" });
  });
  showPlace();
}
