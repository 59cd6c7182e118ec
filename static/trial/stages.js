// The five presses of a torch trial, in order, and the words for everything that can be said of a trial.
export const STAGES = ["flame_in", "sagged", "round", "flame_out", "glow_gone"];

export const STAGE_WORDS = {
  kiln_out: "Out of the kiln",
  flame_in: "Into the flame",
  sagged: "Sagged",
  round: "Round",
  flame_out: "Out of the flame",
  glow_gone: "Glow gone",
};

export const STAGE_HINTS = {
  kiln_out: "press as it leaves the kiln; the way to the flame is timed",
  flame_in: "press as the glass meets the flame; the clock starts",
  sagged: "press when it has softened and sagged",
  round: "press when it is evenly round",
  flame_out: "press as it leaves the flame; the glow clock starts",
  glow_gone: "press when the last glow is gone",
};

export const REASONS = {
  cracked: "Cracked",
  fell_off: "Fell off",
  torch_changed: "Torch changed",
  missed_press: "Missed a press",
  other: "Other reason",
};

export const STATUS_WORDS = {
  ready: "not started",
  running: "running",
  done: "finished, not kept yet",
  kept: "kept",
  abandoned: "stopped",
  incomplete: "presses missing or out of order",
};

export const FLAG_WORDS = {
  screen_slept: "The screen slept in between; the time is from the wall clock.",
  clock_set: "The tablet's clock was set in between; the time is from the running clock.",
  across_reload: "The page was loaded anew in between; the time is from the wall clock.",
  clock_set_back: "The tablet's clock was set back in between; this time is not known.",
  corrected: "A press was corrected afterwards; the original stands in the book.",
  out_of_order: "The presses are out of order.",
};
