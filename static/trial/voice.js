// The tablet says the stage that was recorded and counts the seconds aloud, where a person wants it. Off at first.
const VOICE = "isokom-voice";
const EVERY_S = 10;
let told = 0;

export function isVoiceOn() {
  return localStorage.getItem(VOICE) === "on";
}

export function hasVoice() {
  return "speechSynthesis" in window;
}

export function speak(words) {
  if (!isVoiceOn() || !hasVoice()) return;
  speechSynthesis.cancel();
  speechSynthesis.speak(Object.assign(new SpeechSynthesisUtterance(words), { lang: "en", rate: 1.1 }));
}

export function switchVoice() {
  localStorage.setItem(VOICE, isVoiceOn() ? "off" : "on");
  if (isVoiceOn()) speak("Voice on");
  else if (hasVoice()) speechSynthesis.cancel();
}

/** Says 10, 20, 30 … as the clock passes them. */
export function countAloud(seconds) {
  const whole = Math.floor((seconds ?? 0) / EVERY_S) * EVERY_S;
  if (whole < told) told = 0;
  if (whole > told) {
    told = whole;
    speak(String(whole));
  }
}
