// Whether what was sent is what arrived: the twin of server/sync/digest.py. Where the page's address is not a secure one the browser reckons no digest, and none is sent or asked for.
const reckons = () => Boolean(globalThis.crypto?.subtle);

async function digestOf(bytes) {
  const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
  return `sha-256=:${btoa(String.fromCharCode(...hash))}:`;
}

/** The header of a body, or none. */
export async function digestField(bytes) {
  return reckons() ? { "Content-Digest": await digestOf(bytes) } : {};
}

/** Throws, as a broken line does, where an answer is not the one that was sent. */
export async function mustFit(field, text) {
  if (!field?.startsWith("sha-256=:") || !reckons()) return;
  if ((await digestOf(new TextEncoder().encode(text))) !== field) throw new TypeError("the desk's answer was changed on its way");
}
