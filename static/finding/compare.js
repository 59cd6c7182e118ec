// A margin is kept with its moment; the page is read anew once the desk has it.
import { NotKept, newId, onChange, record } from "../web/outbox.js";
import { at, complain, numberFrom } from "../web/parts.js";

async function keep({ first, second, lane, latest }) {
  const percent = numberFrom(at("margin").value);
  if (complain("margin-error", percent >= 1 && percent <= 100 ? "" : "Give per cent from 1 to 100.")) return;
  try {
    await record("finding.margin", newId(), { first, second, lane, percent, over: JSON.parse(latest) });
  } catch (error) {
    if (!(error instanceof NotKept)) throw error;
    complain("margin-error", error.message);
    return;
  }
  complain("margin-say", "It is written down here, and counts once the desk has heard.");
  onChange((what) => what === "marked" && location.reload());
}

at("set-margin")?.addEventListener("click", ({ currentTarget }) => keep(currentTarget.dataset));
