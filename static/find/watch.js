// Draws a page now, after each change on this tablet, and every few seconds while it is looked at.
import { onChange } from "../web/outbox.js";
import { joined } from "../web/parts.js";
import { allEntries } from "./finds.js";
import { findsFrom } from "./ledger.js";

const EVERY_MS = 5000;

/** Call draw({finds, pieces}) when there is something new to show. */
export async function watch(draw) {
  let shown = null;

  async function look() {
    const entries = await allEntries();
    const found = entries.map((entry) => entry.id).join();
    if (found === shown) return;
    shown = found;
    await draw(findsFrom(entries));
  }

  const lookOnce = joined(look);
  const ifSeen = () => document.visibilityState === "visible" && lookOnce();
  await lookOnce();
  onChange((what) => what === "recorded" && lookOnce());
  document.addEventListener("visibilitychange", ifSeen);
  setInterval(ifSeen, EVERY_MS);
  document.documentElement.dataset.ready = "finds";
  return lookOnce;
}
