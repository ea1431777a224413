// Starts the app; says so on the page where it cannot.
"use strict";

(async () => {
  const note = document.getElementById("boot");
  try {
    await wasm_bindgen({ module_or_path: "page_bg.wasm" });
    note.remove();
  } catch (error) {
    note.textContent =
      `Evenkeel could not start (${error}). Reload the page; if that does not help, use a current Chromium, Firefox or Safari.`;
    console.error(error);
  }
})();
