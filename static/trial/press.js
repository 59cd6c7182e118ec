// The press itself: the finger going down, a key or pedal, or a click that no finger announced. The time is the event's own.
const NOT_A_PRESS = new Set([
  "Tab", "Escape", "Shift", "Control", "Alt", "AltGraph", "Meta", "CapsLock", "NumLock", "ScrollLock", "Fn", "ContextMenu", "PrintScreen", "Unidentified", "Dead", "Process",
]);

/** Both clocks at the event: mono_ms is the event's stamp, wall_ms the wall clock moved back to it. */
export function stampOf(event) {
  const age = performance.now() - event.timeStamp;
  return { wall_ms: Date.now() - age, mono_ms: event.timeStamp };
}

function isOnOtherControl(area) {
  const held = document.activeElement;
  return held !== null && held !== area && held.matches("a, button, input, textarea, select, summary, dialog, [contenteditable]");
}

function isPressKey(event, area) {
  if (event.repeat || event.ctrlKey || event.altKey || event.metaKey || event.defaultPrevented) return false;
  if (NOT_A_PRESS.has(event.key) || /^F\d+$/.test(event.key)) return false;
  return document.querySelector("dialog[open]") === null && !isOnOtherControl(area);
}

/** Call onPress(stamp) for each press of the area, by finger, key, pedal or a click without a finger. */
export function watchPresses(area, onPress) {
  let isFinger = false;
  area.addEventListener("pointerdown", (event) => {
    if (!event.isPrimary || event.button !== 0) return;
    isFinger = true;
    onPress(stampOf(event));
  });
  area.addEventListener("pointercancel", () => (isFinger = false));
  area.addEventListener("pointerup", () => setTimeout(() => (isFinger = false), 300));
  area.addEventListener("contextmenu", (event) => event.preventDefault());
  area.addEventListener("click", (event) => {
    if (!isFinger) onPress(stampOf(event));
    isFinger = false;
  });
  window.addEventListener("keydown", (event) => {
    if (event.target === area && event.repeat) event.preventDefault();
    if (area.hidden || !isPressKey(event, area)) return;
    event.preventDefault();
    onPress(stampOf(event));
  });
  area.addEventListener("keyup", (event) => event.key === " " && event.preventDefault());
}
