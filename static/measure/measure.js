// The four tests, and those on this tablet.
import { askDesk } from "../plan/session.js";
import { onChange } from "../web/outbox.js";
import { at, make, momentOf } from "../web/parts.js";
import { coverNow } from "./cover.js";
import { takeForEveryTest } from "./pieces.js";
import { NAMES, STATUS_WORDS, everyTest, nameOf } from "./tests.js";

const MAX_ROWS = 40;
const MARKS = { sent: "sent", waiting: "to send", refused: "refused by the desk" };

function row(test) {
  const mark = make("span", { className: "mark" }, MARKS[test.mark]);
  mark.dataset.state = test.mark;
  const count = test.readings.size - test.dishes.filter(({ place }) => place).length; // where a chip lies is no reading
  const read = `${count} reading${count === 1 ? "" : "s"}`;
  const status = test.reason ? `${STATUS_WORDS[test.status]}: ${test.reason}` : STATUS_WORDS[test.status];
  const words = [test.title && NAMES[test.test], momentOf(test.started_ms), status, read].filter(Boolean).join(" · ");
  const link = make("a", {}, make("span", { className: "trial-words" }, make("span", { className: "name" }, nameOf(test)), make("span", { className: "small" }, words), mark));
  link.href = `/bench/${test.test}?m=${test.id}`;
  return make("li", {}, link);
}

async function show() {
  const [all, cover] = await Promise.all([everyTest(), coverNow()]);
  const tests = all.filter((test) => test.test).map(cover);
  const open = tests.filter((test) => test.status === "running");
  const done = tests.filter((test) => test.status !== "running");
  for (const [name, found] of [["open", open], ["done", done]]) {
    at(`${name}-part`).hidden = found.length === 0;
    at(`${name}-list`).replaceChildren(...found.slice(0, MAX_ROWS).map(row));
  }
}

onChange(show);
await show();
document.documentElement.dataset.ready = "measure";
await takeForEveryTest();
await askDesk(); // sessions that other tablets ended
await show();
await takeForEveryTest();
