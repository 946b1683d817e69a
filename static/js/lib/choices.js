// @ts-check
const MOVES = ["ArrowUp", "ArrowDown", "ArrowLeft", "ArrowRight", "Home", "End", "PageUp", "PageDown"];

/**
 * A closed list takes the next entry at every arrow key, and each would be an edit of its own on the way to the one that
 * is meant. So such a key opens the list, as a click does; inside, Enter chooses. Browsers without a way to open it do as
 * they always did.
 */
export function openBeforeChoosing() {
  document.addEventListener("keydown", (event) => {
    const list = event.target;
    if (!(list instanceof HTMLSelectElement) || event.altKey || event.ctrlKey || event.metaKey) return;
    const chooses = MOVES.includes(event.key) || (event.key.length === 1 && event.key !== " ");
    if (!chooses || !("showPicker" in list)) return;
    event.preventDefault();
    list.showPicker();
  });
}
