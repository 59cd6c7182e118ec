// The table on its way to the desk: the file or text, asked for a preview.
export const LARGEST = 700_000;
const PATIENCE_MS = 20_000;

/** The desk did not take it, or does not answer; `message` is a sentence for a person. */
export class NotRead extends Error {}

/** The sentence for a file of so many bytes, or a text of so many characters. */
export function tooLarge(size, what) {
  return `That is ${size >= 1e6 ? `${(size / 1e6).toFixed(1)} million` : `${Math.round(size / 1000)} thousand`} ${what}. Up to ${LARGEST / 1000} thousand are read at once: bring the table in parts, or the sheet alone.`;
}

/** A File as base64. Throws NotRead. */
export async function base64Of(file) {
  if (file.size > LARGEST) throw new NotRead(tooLarge(file.size, "bytes"));
  const address = await new Promise((resolve, reject) => {
    const reader = new FileReader();
    reader.onload = () => resolve(reader.result);
    reader.onerror = () => reject(new NotRead("The file cannot be opened. Is it still there?"));
    reader.readAsDataURL(file);
  });
  return address.slice(address.indexOf(",") + 1);
}

async function post(asked) {
  try {
    return await fetch("/intake/preview", {
      method: "POST",
      headers: { "Content-Type": "application/json", Accept: "text/html, application/json" },
      body: JSON.stringify(asked),
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
  } catch {
    const kept = asked.file ? "Choose the file again when it is back" : "What you pasted is kept on this device";
    throw new NotRead(`Reading a table needs the desk, and the desk does not answer. ${kept}.`);
  }
}

/** The preview as HTML. Throws NotRead with the desk's own sentence. */
export async function previewOf(asked) {
  const answer = await post(asked);
  if (answer.ok) return answer.text();
  const { detail } = await answer.json().catch(() => ({}));
  throw new NotRead(detail ?? `The desk could not read it (${answer.status}).`);
}
