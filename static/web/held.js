// Entries that this tablet's store refused: a copy of each beside it (localStorage), so that every page knows of them and any of them tries again. Never dropped.
const BESIDE = "isokom-rescue:";

function readAt(key) {
  return JSON.parse(localStorage.getItem(key) ?? "[]");
}

/** What is held of one subject, in its order. */
export function heldOf(subject) {
  return readAt(BESIDE + subject);
}

/** All that is held on this tablet. */
export function allHeld() {
  return Object.keys(localStorage).filter((key) => key.startsWith(BESIDE)).flatMap(readAt);
}

/** Hold these of a subject and no others. Throws nothing where there is no room: whoever calls keeps them in memory and on the screen. */
export function keepHeld(subject, drafts) {
  try {
    if (drafts.length) localStorage.setItem(BESIDE + subject, JSON.stringify(drafts));
    else localStorage.removeItem(BESIDE + subject);
  } catch (error) {
    console.warn("no copy beside the store:", error.name);
  }
}
