// A table wider than its box says so: a word above it, and its first column stays in sight while the rest slides.
const watcher = new ResizeObserver((seen) => {
  for (const box of new Set(seen.map(({ target }) => target.closest(".wide")))) mark(box);
});

function mark(box) {
  const slides = box.scrollWidth > box.clientWidth + 1;
  if (slides === box.classList.contains("slides")) return;
  box.classList.toggle("slides", slides);
  box.querySelector(":scope > .slide-word")?.remove();
  if (slides) box.prepend(Object.assign(document.createElement("p"), { className: "slide-word", textContent: "Slide sideways for more →" }));
}

/** Watch every box of the page, and those that come later. */
export function watchWide() {
  const start = () => document.querySelectorAll(".wide:not([data-watched])").forEach((box) => {
    box.dataset.watched = "";
    watcher.observe(box);
    for (const table of box.querySelectorAll("table")) watcher.observe(table);
  });
  new MutationObserver(start).observe(document.querySelector("#main"), { childList: true, subtree: true });
  start();
}
