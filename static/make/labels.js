// Labels of what was made, for a printer.
import { make, momentOf } from "../web/parts.js";

/** One label: name, recipe, what to beware of, day and the last signs of the glass's number. */
export function labelNodes(id, body, warning) {
  const day = momentOf(Date.now()).slice(0, 10);
  return make("div", { className: "label" },
    make("p", { className: "label-name", textContent: body.name }),
    make("p", { className: "small", textContent: body.source.replace(/^Made here: /, "") }),
    ...(warning ? [make("p", { className: "label-warning", textContent: `⚠ ${warning}` })] : []),
    make("p", { className: "small", textContent: `${day} · no. …${id.slice(-6)}` }));
}

/** Print them and nothing else. */
export function printLabels() {
  document.body.classList.add("labels-only");
  addEventListener("afterprint", () => document.body.classList.remove("labels-only"), { once: true });
  print();
}
