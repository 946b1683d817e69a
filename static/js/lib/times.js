// @ts-check

/**
 * Moments as the reader’s own clock and calendar tell them.
 * @param {string} where a selector @param {"medium" | "long"} dateStyle
 */
export function tellTimesHere(where, dateStyle) {
  for (const time of document.querySelectorAll(where)) {
    if (!(time instanceof HTMLTimeElement)) continue;
    time.textContent = new Date(time.dateTime).toLocaleString(undefined, { dateStyle, timeStyle: "short" });
  }
}
