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

const DOUBLE_MS = 450;

/** A function of a press (and of what it is of): whether it is the second tap of a double one, which falls on what the first has brought. */
export function doubles() {
  const last = { key: null, at: -DOUBLE_MS };
  return (key = "") => {
    const now = performance.now();
    const isSecond = key === last.key && now - last.at < DOUBLE_MS;
    if (!isSecond) Object.assign(last, { key, at: now });
    return isSecond;
  };
}
