// @ts-check
// Loaded before the page is drawn, so that a chosen appearance doesn't flash; therefore no module.
(() => {
  const key = "fishplate-appearance";
  const names = { system: "as the system", light: "light", dark: "dark" };
  const order = /** @type {const} */ (["system", "light", "dark"]);

  /** @returns {"system" | "light" | "dark"} what was chosen */
  function chosen() {
    try {
      const kept = localStorage.getItem(key);
      return kept === "light" || kept === "dark" ? kept : "system";
    } catch {
      return "system";
    }
  }

  /** @param {"system" | "light" | "dark"} theme */
  function show(theme) {
    if (theme === "system") delete document.documentElement.dataset.theme;
    else document.documentElement.dataset.theme = theme;
    const name = document.getElementById("theme-name");
    if (name) name.textContent = names[theme];
  }

  show(chosen());
  document.addEventListener("DOMContentLoaded", () => {
    show(chosen());
    const button = document.getElementById("theme-button");
    if (!button) return;
    button.hidden = false;
    button.addEventListener("click", () => {
      const next = order[(order.indexOf(chosen()) + 1) % order.length];
      try {
        localStorage.setItem(key, next);
      } catch {
        // Storage may be refused; the choice then lasts as long as the page.
      }
      show(next);
    });
  });
})();
