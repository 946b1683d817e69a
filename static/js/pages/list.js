// @ts-check
import { askBeforeSubmit } from "../lib/confirm.js";
import { sendOnce } from "../lib/forms.js";
import { tellTimesHere } from "../lib/times.js";

const OWN_TIMES = "#own-lines time";
const WAIT_MS = 150; // after the last letter

/** The list follows what is typed or chosen; the address says it, so that it can be kept, and come back to. */
function findAsTyped() {
  const finder = document.getElementById("finder");
  const lines = document.getElementById("own-lines");
  if (!(finder instanceof HTMLFormElement) || !lines) return;
  let timer = 0;
  let asked = new AbortController();

  async function find() {
    clearTimeout(timer);
    asked.abort();
    asked = new AbortController();
    const said = [...new FormData(/** @type {HTMLFormElement} */ (finder))].filter(([name, value]) => value !== "" && !(name === "sort" && value === "newest"));
    const address = said.length ? `/?${new URLSearchParams(/** @type {[string, string][]} */ (said))}` : "/";
    try {
      const answer = await fetch(address, { signal: asked.signal });
      if (!answer.ok) throw new Error(String(answer.status));
      const found = new DOMParser().parseFromString(await answer.text(), "text/html").getElementById("own-lines");
      if (!found) throw new Error("no list");
      // The count stays where it is, so that it is announced.
      const count = document.getElementById("own-count");
      const told = found.querySelector("#own-count");
      if (count && told) {
        if (count.textContent !== told.textContent) count.textContent = told.textContent;
        told.remove();
        lines?.replaceChildren(count, ...found.childNodes);
      }
      history.replaceState(null, "", address);
      tellTimesHere(OWN_TIMES, "medium");
    } catch (error) {
      if (error instanceof DOMException && error.name === "AbortError") return;
      /** @type {HTMLFormElement} */ (finder).submit(); // what is wrong is told by the page that comes
    }
  }

  finder.addEventListener("input", (event) => {
    clearTimeout(timer);
    if (event.target instanceof HTMLSelectElement) find();
    else timer = setTimeout(find, WAIT_MS);
  });
  finder.addEventListener("submit", (event) => {
    event.preventDefault();
    find();
  });
}

askBeforeSubmit();
sendOnce();
tellTimesHere(OWN_TIMES, "medium");
findAsTyped();

/** What goes with what was chosen: the principles that fit the fracture, and the plates usual for the bone. */
function followChoices() {
  const questions = document.getElementById("questions");
  const said = document.getElementById("what-fits");
  if (!(questions instanceof HTMLFormElement) || !said) return;

  function show() {
    const pattern = questions?.querySelector("input[name='pattern']:checked");
    const bone = questions?.querySelector("input[name='bone']:checked");
    const fits = pattern instanceof HTMLInputElement ? (pattern.dataset.fits ?? "").split(" ") : [];
    if (said) said.textContent = fits.join(" or ");
    for (const plate of questions?.querySelectorAll("input[name='series'][data-bones]") ?? []) {
      if (!(plate instanceof HTMLInputElement)) continue;
      const usual = bone instanceof HTMLInputElement && (plate.dataset.bones ?? "").split(" ").includes(bone.value);
      const tile = plate.closest(".tile");
      if (tile instanceof HTMLElement) tile.hidden = !usual && !plate.checked;
    }
  }

  questions.addEventListener("change", show);
  show(); // a browser that comes back keeps what was chosen
}

followChoices();
