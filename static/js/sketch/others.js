// @ts-check
// What other windows and other people do with the same case is seen here as soon as it happens.
import { post } from "../lib/api.js";
import { follow } from "../lib/events.js";
import { undoLabel } from "./page.js";

const SHOWN_MS = 4000;
const AWAY_MS = 4000;

/**
 * @param {import("./page.js").Page} page @param {import("./commits.js").Commits} commits
 * @param {() => void} pinsChanged what-ifs were kept, renamed or taken away
 */
export function followOthers(page, commits, pinsChanged) {
  let newest = page.version;
  let timer = 0;
  let away = 0;
  let renewing = false;
  /** @type {import("../lib/events.js").Tried | null} what another hand tries, as long as it does */
  let tried = null;
  let drawing = false;
  /** @type {import("../lib/events.js").Tried | null} which of those the picture shows */
  let borrowed = null;

  const busy = () => page.board.classList.contains("dragging") || page.board.classList.contains("stepping");

  /** The newest version, once what is done here is written. */
  async function renew() {
    if (renewing) return;
    renewing = true;
    while (newest > page.version) {
      await commits.settled();
      if (newest <= page.version) break;
      if (busy() || !commits.idle) {
        await new Promise((resolve) => setTimeout(resolve, 50));
        continue;
      }
      if (!(await page.refresh(page.view, true))) break;
      tell(`Changed elsewhere: ${undoLabel() || "this is the newest version"}.`);
    }
    renewing = false;
  }

  /** @param {string} sentence */
  function tell(sentence) {
    if (commits.idle) page.mark("elsewhere"); // what is not written yet matters more
    page.say(sentence);
    clearTimeout(timer);
    timer = setTimeout(() => commits.idle && page.mark("saved"), SHOWN_MS);
  }

  /** Another hand's drag, as it goes on; the newest wins, and at its end the case is as it was. */
  async function lookOn() {
    if (drawing) return;
    drawing = true;
    while (tried !== borrowed && !busy() && commits.idle) {
      const next = tried;
      const looked = { ...page.where(page.view), edit: next?.edit ?? null, quiet: true };
      const answer = await post(`${page.path}/preview`, looked).catch(() => null);
      if (!answer?.ok || busy()) break;
      page.show(answer.redraw);
      borrowed = next;
      if (next) tell(`Being tried elsewhere: ${answer.redraw.status}`);
    }
    drawing = false;
  }

  follow(
    `${page.path}/events?hand=${page.hand}`,
    {
      version: (version) => {
        newest = Math.max(newest, version);
        if (version > page.version) tried = borrowed = null; // that will be shown whole
        renew();
      },
      preview: (word) => {
        if (word.hand === page.hand || word.construct !== page.construct) return;
        tried = word.edit && word.version === page.version ? word : null;
        lookOn();
      },
      pins: pinsChanged,
      connected: (on) => {
        clearTimeout(away);
        if (on) commits.idle && page.mark("saved");
        else away = setTimeout(() => page.mark("away"), AWAY_MS);
      },
    },
    true,
  );
}
