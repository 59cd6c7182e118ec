// The order of a session's runs from its seed. Its twin is server/plan/order.py; anyone can work it out again with SHA-256.
// Blocks: every glass but the reference once, sorted by the hash of "seed|block|glass". The reference stands first, in the middle and last, so that drift shows.
export const MOST_RUNS = 300;
const LETTERS = "ACDEFHJKLMNPRTVWXY"; // told apart at a glance, also in a dim room

async function hash(...parts) {
  const bytes = await crypto.subtle.digest("SHA-256", new TextEncoder().encode(parts.join("|")));
  return [...new Uint8Array(bytes)].map((b) => b.toString(16).padStart(2, "0")).join("");
}

/** Eight signs that nobody chose. */
export function newSeed() {
  return [...crypto.getRandomValues(new Uint8Array(4))].map((b) => b.toString(16).padStart(2, "0")).join("");
}

// Two letters for each run's dish, no two alike.
async function codesOf(seed, count) {
  const taken = new Set();
  for (let run = 0; run < count; run += 1) {
    let place = parseInt((await hash(seed, "code", run)).slice(0, 8), 16) % LETTERS.length ** 2;
    while (taken.has(place)) place = (place + 1) % LETTERS.length ** 2;
    taken.add(place);
  }
  return [...taken].map((place) => LETTERS[Math.floor(place / LETTERS.length)] + LETTERS[place % LETTERS.length]);
}

async function blockOf(seed, block, tested) {
  const keyed = await Promise.all(tested.map(async (glass) => [await hash(seed, block, glass), glass]));
  return keyed.sort(([a], [b]) => (a < b ? -1 : 1)).map(([, glass]) => ({ glass, block, is_reference: false }));
}

/** Runs in order: [{glass, block, code, is_reference}]; glass counts from 0, block is null for the reference. Throws RangeError for more than MOST_RUNS. */
export async function runsOf(seed, glasses, repeats, reference) {
  if (glasses * repeats > MOST_RUNS) throw new RangeError(`more than ${MOST_RUNS} runs`);
  const tested = Array.from({ length: glasses }, (_, i) => i).filter((i) => i !== reference);
  let order = [];
  for (let block = 0; block < repeats; block += 1) order.push(...(await blockOf(seed, block, tested)));
  if (reference !== null) {
    const standard = { glass: reference, block: null, is_reference: true };
    const half = Math.floor(order.length / 2);
    order = [standard, ...order.slice(0, half), ...(half ? [standard] : []), ...order.slice(half), standard];
  }
  const codes = await codesOf(seed, order.length);
  return order.map((run, i) => ({ glass: run.glass, block: run.block, code: codes[i], is_reference: run.is_reference }));
}
