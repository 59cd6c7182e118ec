// A press finds its button where the finger came down on it: what would move the page waits until the press is over.
const waiting = [];
let isDown = false;

function letGo() {
  isDown = false;
  setTimeout(() => waiting.splice(0).forEach((act) => act())); // the click itself comes first
}

document.addEventListener("pointerdown", () => (isDown = true), true);
for (const name of ["pointerup", "pointercancel"]) document.addEventListener(name, letGo, true);

/** Do this once no finger is down. */
export function afterPress(act) {
  waiting.push(act);
  if (!isDown) letGo();
}
