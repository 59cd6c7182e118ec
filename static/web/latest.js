// Statements of which the latest counts, said on machines that may not have heard of each other. Pure; the twin of server/store/latest.py (the rule stands there).
const inOrder = (a, b) => a.at_ms - b.at_ms || (a.id < b.id ? -1 : a.id > b.id ? 1 : 0);
const OPENING = /\.(opened|added)$/;

/** What a statement says, without what it comes after. */
export function said({ body: { over: _over, ...rest } }) {
  return rest;
}

/** The statements (entries of one subject and matter) that no other comes after, by the clock; the last one counts. */
export function latest(statements) {
  const every = [...statements].sort(inOrder);
  const later = every.filter(({ kind }) => !OPENING.test(kind));
  const ordered = later.length ? later : every;
  const past = new Set();
  for (const [place, { id, body }] of ordered.entries()) {
    for (const other of body.over ?? ordered.slice(0, place).map((one) => one.id)) if (other !== id) past.add(other);
  }
  const found = ordered.filter(({ id }) => !past.has(id));
  return found.length ? found : ordered.slice(-1);
}

const asText = (value) => JSON.stringify(value, (_key, one) => (one && typeof one === "object" && !Array.isArray(one) ? Object.fromEntries(Object.entries(one).sort()) : one));

/** Whether these say different things. */
export function disagree(statements) {
  return statements.slice(1).some((one) => asText(said(one)) !== asText(said(statements[0])));
}
