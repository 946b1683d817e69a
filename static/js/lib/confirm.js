// @ts-check
/** Ask before a form does what can't be undone: forms with data-confirm carry the question. */
export function askBeforeSubmit() {
  const dialog = /** @type {HTMLDialogElement | null} */ (document.getElementById("confirm"));
  const text = document.getElementById("confirm-text");
  if (!dialog || !text) return;
  document.addEventListener("submit", (event) => {
    const form = /** @type {HTMLFormElement} */ (event.target);
    const question = form.dataset.confirm;
    if (!question) return;
    event.preventDefault();
    text.textContent = question;
    dialog.returnValue = "no";
    dialog.addEventListener("close", () => dialog.returnValue === "yes" && form.submit(), { once: true });
    dialog.showModal();
  });
}
