// What the store refused is offered to it again, from whichever page is open.
import { allHeld, heldOf, keepHeld } from "./held.js";
import { Behind, NotKept, changed, record } from "./outbox.js";

/** Hold these of a subject and no others, and let every page know. */
export function hold(subject, drafts) {
  const before = heldOf(subject).length;
  keepHeld(subject, drafts);
  if (drafts.length || before) changed("held");
}

/** Store a held entry under its own id, so that twice is once; where another one has its place meanwhile, at the end. Throws NotKept. */
export async function recordAgain({ kind, subject, body, ...marks }) {
  try {
    return await record(kind, subject, body, marks);
  } catch (error) {
    if (!(error instanceof Behind)) throw error;
    return record(kind, subject, body, { ...marks, n: null });
  }
}

/** Try everything that is held, oldest first. Never throws for a store that goes on refusing. */
export async function tryHeld() {
  try {
    for (const draft of allHeld().sort((a, b) => (a.id < b.id ? -1 : 1))) {
      await recordAgain(draft);
      hold(draft.subject, heldOf(draft.subject).filter(({ id }) => id !== draft.id));
    }
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
  }
}
