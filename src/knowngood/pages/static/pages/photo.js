// Without this file a tap on a photo marks the middle of the field that was tapped; with it, the very place.
"use strict";

document.querySelector(".cells")?.addEventListener("click", (event) => {
  const cell = event.target.closest("button");
  if (!cell || event.detail === 0) return; // by keyboard: the middle of the field
  const frame = event.currentTarget.getBoundingClientRect();
  const share = (at, start, size) => Math.min(100, Math.max(0, Math.round((100 * (at - start)) / size)));
  cell.value = `${share(event.clientX, frame.left, frame.width)} ${share(event.clientY, frame.top, frame.height)}`;
});
