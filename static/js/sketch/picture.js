// @ts-check
import { byId } from "./page.js";

/**
 * The picture on the clipboard, for a slide or a letter. Browsers allow it on this machine and over TLS only.
 * @param {import("./page.js").Page} page
 */
export function copyPictures(page) {
  const button = byId("copy-picture");
  if (!navigator.clipboard?.write || !("ClipboardItem" in window)) return;
  button.hidden = false;
  button.addEventListener("click", async () => {
    const address = /** @type {HTMLAnchorElement} */ (byId("picture-file")).href;
    const picture = fetch(address).then((answer) => {
      if (!answer.ok) throw new Error("no picture");
      return answer.blob();
    });
    try {
      await navigator.clipboard.write([new ClipboardItem({ "image/png": picture })]);
      page.say("The picture is on the clipboard.");
    } catch {
      page.say("The picture could not be copied; save it as a file instead.");
    }
  });
}
