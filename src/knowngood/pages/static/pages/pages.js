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

// While an answer is on its way the page says so, and what was there stays where it is: what comes from elsewhere waits,
// so that the page never takes its own line for another's.
let underway = 0;
const posts = (event) => event.detail.requestConfig.verb === "post";
document.addEventListener("htmx:beforeRequest", (event) => {
  if (!posts(event)) return underway && event.detail.elt.id === "poll" && event.preventDefault();
  underway += 1;
  document.getElementById("unit")?.setAttribute("aria-busy", "true");
});
document.addEventListener("htmx:afterRequest", (event) => {
  if (!posts(event)) return;
  underway = Math.max(0, underway - 1);
  if (!underway) document.getElementById("unit")?.removeAttribute("aria-busy");
});

// What was begun in the field for lines meanwhile is still there afterwards.
let begun = "";
document.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.elt.id === "poll" && underway) event.detail.shouldSwap = false;
  if (event.detail.target.id !== "unit") return;
  const field = document.getElementById("typed");
  const sent = event.detail.requestConfig.elt.contains(field) ? event.detail.requestConfig.parameters.typed : "";
  begun = field && field.value !== sent && field.value !== field.defaultValue ? field.value : "";
});
document.addEventListener("htmx:afterSwap", (event) => {
  const field = document.getElementById("typed");
  if (event.detail.target.id === "unit" && begun && field && !field.value) field.value = begun;
});

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

// A box of a sheet that is ticked goes away: the next one has the focus then.
let box = -1;
const boxes = () => [...document.querySelectorAll("#sheet button")];
document.addEventListener("submit", (event) => {
  box = boxes().indexOf(event.submitter);
}, true);
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target.id !== "sheet" || box < 0) return;
  const next = boxes()[Math.min(box, boxes().length - 1)];
  next?.focus({ preventScroll: true });
  next?.scrollIntoView({ block: "nearest" });
});
