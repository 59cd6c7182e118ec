"""The tablet's clock rule and the desk's are one: the same entries give the same times in a real browser and in Python."""

import math

from server.trial.timing import Press, trial_from
from tests.entries import OTHER_PAGE, PAGE
from tests.unit.trial.test_timing import BY_HAND, made_history

IN_PAGE = """async ([spans, histories]) => {
  const base = document.querySelector("script[src$='trial/bench.js']").src.replace("bench.js", "");
  const { elapsed } = await import(base + "clock.js");
  const { trialFrom } = await import(base + "trials.js");
  return {
    spans: spans.map(([a, b, hidden]) => elapsed(a, b, hidden)),
    trials: histories.map((entries) => {
      const { status, spans, flags, notes, presses } = trialFrom(entries);
      return { status, spans, flags, notes, presses: Object.fromEntries(Object.entries(presses).map(([k, p]) => [k, p.id])) };
    }),
  };
}"""


def hand_worked():
    """The hand-worked spans as the page takes them."""
    for wall, mono, same, hidden, _want, _flags in BY_HAND:
        first = {"wall_ms": 1_000_000.0, "mono_ms": 100_000.0, "page": PAGE}
        yield [first, {"wall_ms": 1_000_000.0 + wall, "mono_ms": 100_000.0 + mono, "page": PAGE if same else OTHER_PAGE}, hidden]


def as_told(entries) -> dict:
    """Python's reading in the shape of the page's."""
    trial = trial_from(entries)
    spans = {name: {"seconds": s.seconds, "flags": list(s.flags)} for name, s in trial.spans.items()}
    presses = {stage: p.id for stage, p in trial.presses.items()}
    return {"status": trial.status, "spans": spans, "flags": list(trial.flags), "notes": list(trial.notes), "presses": presses}


def test_page_and_desk_read_the_same_times(live_server, browser_context):
    page = browser_context().new_page()
    page.goto(f"{live_server.url}/bench")
    histories = [made_history(seed) for seed in range(300)]
    found = page.evaluate(IN_PAGE, [list(hand_worked()), histories])
    for row, span in zip(BY_HAND, found["spans"], strict=True):
        want = row[4]
        assert span["flags"] == list(row[5])
        assert span["seconds"] is None if want is None else math.isclose(span["seconds"], want, rel_tol=1e-12, abs_tol=1e-12)
    for entries, told in zip(histories, found["trials"], strict=True):
        assert told == as_told(entries)
    assert len({t["status"] for t in found["trials"]}) > 1 and isinstance(Press, type)


def test_ids_made_in_the_page_sort_as_made(live_server, browser_context):
    page = browser_context().new_page()
    page.goto(f"{live_server.url}/bench")
    ids = page.evaluate("""async () => {
      const base = document.querySelector("script[src$='trial/bench.js']").src.replace("trial/bench.js", "");
      const { newId } = await import(base + "web/outbox.js");
      return Array.from({ length: 20000 }, newId);
    }""")
    assert ids == sorted(ids) and len(set(ids)) == 20000
    assert all(i[14] == "7" and i[19] in "89ab" and len(i) == 36 for i in ids)
