// Comfort for the picture of a map: it begins at what the next step is about, is dragged with a mouse, and changes its
// size without a new page. All of it works by scrolling and links without this file.
"use strict";

const pane = document.querySelector(".pane");
const map = pane?.querySelector(".map");

function showAim() {
  const aim = map.querySelector(".aim") || map.querySelector(".level-3, .level-2");
  if (!aim) return;
  const [at, frame] = [aim.getBoundingClientRect(), pane.getBoundingClientRect()];
  pane.scrollLeft += at.left + at.width / 2 - frame.left - frame.width / 2;
  pane.scrollTop += at.top + at.height / 2 - frame.top - frame.height / 2;
}

if (map) {
  const [, , width, height] = map.getAttribute("viewBox").split(" ").map(Number);
  showAim();
  document.querySelector(".zooms").addEventListener("click", (event) => {
    const link = event.target.closest("[data-zoom]");
    if (!link) return;
    event.preventDefault();
    const middle = [(pane.scrollLeft + pane.clientWidth / 2) / map.clientWidth, (pane.scrollTop + pane.clientHeight / 2) / map.clientHeight];
    map.classList.remove("fits", "as-wide");
    map.setAttribute("width", Math.round(width * link.dataset.zoom / 100));
    map.setAttribute("height", Math.round(height * link.dataset.zoom / 100));
    pane.scrollLeft = middle[0] * map.clientWidth - pane.clientWidth / 2;
    pane.scrollTop = middle[1] * map.clientHeight - pane.clientHeight / 2;
    for (const one of document.querySelectorAll(".zooms a")) one.removeAttribute("aria-current");
    link.setAttribute("aria-current", "true");
  });
  let held = null;
  pane.addEventListener("pointerdown", (event) => {
    if (event.pointerType === "mouse" && event.button === 0) held = { x: event.clientX, y: event.clientY, moved: false };
  });
  addEventListener("pointermove", (event) => {
    if (!held || !event.buttons) return;
    if (Math.hypot(event.clientX - held.x, event.clientY - held.y) < 4 && !held.moved) return;
    pane.scrollLeft -= event.clientX - held.x;
    pane.scrollTop -= event.clientY - held.y;
    held = { x: event.clientX, y: event.clientY, moved: true };
  });
  pane.addEventListener("click", (event) => {
    if (held?.moved) event.preventDefault();
    held = null;
  }, true);
  pane.addEventListener("dragstart", (event) => event.preventDefault());
}
