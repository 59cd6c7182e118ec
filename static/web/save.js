// A picture as a file: SVG with its colours written in, or PNG drawn from that.
const KEPT = ["fill", "stroke", "stroke-width", "stroke-dasharray", "font-size", "font-weight", "opacity", "fill-opacity", "text-anchor"];

function standalone(node) {
  const copy = node.cloneNode(true);
  const originals = [node, ...node.querySelectorAll("*")];
  [copy, ...copy.querySelectorAll("*")].forEach((element, i) => {
    const style = getComputedStyle(originals[i]);
    for (const name of KEPT) element.setAttribute(name, style.getPropertyValue(name));
  });
  const { width, height } = node.viewBox.baseVal;
  copy.setAttribute("xmlns", "http://www.w3.org/2000/svg");
  copy.setAttribute("width", width);
  copy.setAttribute("height", height);
  copy.setAttribute("font-family", "system-ui, sans-serif");
  const paper = document.createElementNS("http://www.w3.org/2000/svg", "rect");
  paper.setAttribute("width", width);
  paper.setAttribute("height", height);
  paper.setAttribute("fill", getComputedStyle(document.documentElement).backgroundColor);
  copy.prepend(paper);
  return new Blob([new XMLSerializer().serializeToString(copy)], { type: "image/svg+xml" });
}

async function asPng(blob, { width, height }) {
  const address = URL.createObjectURL(blob);
  const image = new Image();
  image.src = address;
  await image.decode();
  const canvas = document.createElement("canvas");
  canvas.width = width * 2;
  canvas.height = height * 2;
  canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
  URL.revokeObjectURL(address);
  return new Promise((resolve) => canvas.toBlob(resolve, "image/png"));
}

function download(blob, name) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}

/** A small button that saves what text() returns as a file. */
export function saveText(words, text, name, type) {
  const button = document.createElement("button");
  Object.assign(button, { type: "button", className: "plain", textContent: words });
  button.addEventListener("click", () => download(new Blob([text()], { type }), name));
  return button;
}

/** Two small buttons that save the picture which picture() returns. */
export function saveButtons(picture, name) {
  const row = document.createElement("p");
  row.className = "save no-print";
  for (const kind of ["SVG", "PNG"]) {
    const button = document.createElement("button");
    Object.assign(button, { type: "button", className: "plain", textContent: `Save as ${kind}` });
    button.addEventListener("click", async () => {
      const node = picture();
      const drawing = standalone(node);
      download(kind === "SVG" ? drawing : await asPng(drawing, node.viewBox.baseVal), `${name}.${kind.toLowerCase()}`);
    });
    row.append(button);
  }
  return row;
}
