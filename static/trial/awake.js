// Keep the screen lit while a clock runs, and answer a press to hand and ear.
const SOUND = "isokom-sound";
let lock = null;
let audio = null;

/** Ask for the wake lock (again). Resolves to false where this browser cannot keep the screen lit. */
export async function keepAwake() {
  if (lock && !lock.released) return true;
  if (!navigator.wakeLock) return false;
  try {
    lock = await navigator.wakeLock.request("screen");
    return true;
  } catch (error) {
    if (error.name !== "NotAllowedError") throw error;
    return document.visibilityState !== "visible"; // while hidden it is refused as a matter of course
  }
}

/** Let the screen sleep again. */
export async function letSleep() {
  await lock?.release();
  lock = null;
}

export function isSoundOn() {
  return localStorage.getItem(SOUND) === "on";
}

export function switchSound() {
  localStorage.setItem(SOUND, isSoundOn() ? "off" : "on");
  if (isSoundOn()) wakeSound();
}

/** To be called at the end of a touch: browsers give sound only then. */
export function wakeSound() {
  if (!isSoundOn()) return;
  audio ??= new AudioContext();
  audio.resume();
}

function beep() {
  if (!isSoundOn() || audio?.state !== "running") return;
  const tone = audio.createOscillator();
  const level = audio.createGain();
  level.gain.value = 0.25;
  tone.frequency.value = 880;
  tone.connect(level).connect(audio.destination);
  tone.start();
  tone.stop(audio.currentTime + 0.09);
}

/** Tell hand, ear and eye that a press is on disk. */
export function answerPress(area) {
  navigator.vibrate?.(40);
  beep();
  area.classList.add("pressed");
  setTimeout(() => area.classList.remove("pressed"), 300);
}
