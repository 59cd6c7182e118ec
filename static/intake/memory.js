// What this device remembers: the pasted text not yet kept, and how headings were put right, by the key of the headings.
const DRAFT = "isokom-table-draft";
const HEADINGS = "isokom-table-headings";
const MOST_REMEMBERED = 60;

function stored(key) {
  try {
    return JSON.parse(localStorage.getItem(key) ?? "null");
  } catch {
    return null;
  }
}

/** Keep the draft; false where this device's store is full or shut. */
export function keepDraft(draft) {
  try {
    localStorage.setItem(DRAFT, JSON.stringify(draft));
    return true;
  } catch {
    return false;
  }
}

/** The draft {text, method, surface, source}, or null. */
export function draft() {
  return stored(DRAFT);
}

/** The pasted text has become glasses. */
export function forgetDraft() {
  localStorage.removeItem(DRAFT);
}

/** {corrections, decimal, repeats, blank, turn} for headings of this key, or null. */
export function remembered(fingerprint) {
  return stored(HEADINGS)?.[fingerprint] ?? null;
}

/** Remember how these headings were put right; the oldest are let go. */
export function remember(fingerprint, said) {
  const { [fingerprint]: _earlier, ...others } = stored(HEADINGS) ?? {};
  const kept = [...Object.entries(others), [fingerprint, said]].slice(-MOST_REMEMBERED);
  try {
    localStorage.setItem(HEADINGS, JSON.stringify(Object.fromEntries(kept)));
  } catch {
    // a full store loses a convenience, no data
  }
}
