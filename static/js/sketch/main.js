// @ts-check
import { showBands } from "./bands.js";
import { Commits } from "./commits.js";
import { openBeforeChoosing } from "../lib/choices.js";
import { askBeforeSubmit } from "../lib/confirm.js";
import { countInTab } from "./counts.js";
import { dragHandles } from "./drag.js";
import { sendOnce } from "../lib/forms.js";
import { markWhatIsMeant } from "./highlight.js";
import { pressHoles } from "./holes.js";
import { listenToKeys } from "./keys.js";
import { showLayoutMap } from "./layout_map.js";
import { listenToLoads } from "./loads.js";
import { showHints } from "./hints.js";
import { stepNumbers } from "../lib/number.js";
import { orderScrews } from "./order.js";
import { openWarnings } from "./flags.js";
import { zoomAndPan } from "./frame.js";
import { followOthers } from "./others.js";
import { Page } from "./page.js";
import { listenToPanels } from "./panels.js";
import { copyPictures } from "./picture.js";
import { stepThrough } from "./stepper.js";
import { tabs } from "./tabs.js";
import { listenToWhatifs } from "./whatifs.js";

const page = new Page();
const panels = tabs();
const commits = new Commits(page);
zoomAndPan(page);
dragHandles(page, commits);
pressHoles(page, commits);
listenToKeys(page, commits, panels.key);
openWarnings(page, panels.open);
listenToPanels(page, commits);
const renewWhatifs = listenToWhatifs(page, commits);
followOthers(page, commits, renewWhatifs);
showLayoutMap(page, commits, renewWhatifs, panels.reach);
listenToLoads(page);
orderScrews(page, commits);
stepThrough(page);
copyPictures(page);
showHints(page);
showBands(page);
countInTab();
markWhatIsMeant(page);
askBeforeSubmit();
sendOnce();
stepNumbers();
openBeforeChoosing();

// A page that the browser kept while away may be old.
addEventListener("pageshow", (event) => {
  if (event.persisted) page.refresh(page.view);
});
