// Paper cannot be opened: what is folded away is printed as well (a long list as the person left it), with the address and the day at the foot, and folded again afterwards.
let unfolded = [];

function unfold() {
  unfolded = [...document.querySelectorAll("main details:not([open])")].filter((part) => !part.matches("[data-print-as-is]"));
  for (const part of unfolded) part.open = true;
  const place = document.querySelector("#printed");
  if (place) place.textContent = `Printed ${new Date().toLocaleString(undefined, { dateStyle: "long", timeStyle: "short" })} from ${location.href}`;
}

function fold() {
  for (const part of unfolded) part.open = false;
  unfolded = [];
}

export function startPrinting() {
  window.addEventListener("beforeprint", unfold);
  window.addEventListener("afterprint", fold);
}
