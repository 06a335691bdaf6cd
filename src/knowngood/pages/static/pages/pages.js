// What HTML alone cannot do, for comfort only: every page works without this file.
"use strict";

// With a keyboard at hand, a letter typed anywhere goes into the field for lines.
document.addEventListener("keydown", (event) => {
  const field = document.getElementById("gap") || document.getElementById("typed");
  const at = document.activeElement;
  if (!field || event.ctrlKey || event.metaKey || event.altKey || event.key.length !== 1 || event.key === " ") return;
  if (at && at !== document.body) return;
  (/[0-9.,+-]/.test(event.key) ? field : document.getElementById("typed")).focus();
});

// While an answer is on its way the page says so, and what was there stays where it is.
document.addEventListener("htmx:beforeRequest", (event) => {
  if (event.detail.requestConfig.verb === "post") document.getElementById("unit")?.setAttribute("aria-busy", "true");
});
document.addEventListener("htmx:afterRequest", () => document.getElementById("unit")?.removeAttribute("aria-busy"));

// An answer that does not come is said beside what was typed; nothing typed is lost.
for (const name of ["htmx:sendError", "htmx:responseError", "htmx:timeout"]) {
  document.addEventListener(name, (event) => {
    if (event.detail.requestConfig.verb !== "post") return;
    const news = document.getElementById("news");
    if (news) news.textContent = "Not logged: the program does not answer. Is it still running? Try again.";
  });
}

// After a swap the focus stays where the hand is: in the field for lines.
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id !== "unit" || !matchMedia("(pointer: fine)").matches) return;
  (document.querySelector("[aria-invalid]") || document.getElementById("typed"))?.focus({ preventScroll: true });
});
