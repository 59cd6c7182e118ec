"""Pure: the entries of a session and its tests -> how it went, for the desk."""

from dataclasses import dataclass
from math import log

from server.measure.log import Measured
from server.plan.said import said_of_runs
from server.trial.timing import Trial


@dataclass(frozen=True)
class RunResult:
    """One run: `name` is None while the session is covered; `trial` (or `measured`, of the other tests) is the one that counts, `others` the stopped ones before it."""

    code: str
    name: str | None
    is_reference: bool
    state: str
    why: str
    trial: Trial | None
    others: int
    measured: Measured | None = None


@dataclass(frozen=True)
class SessionResult:
    """One session. `changes` are the conditions that changed later on, with their time; `uncovered` what was uncovered before the end; `closed` when and why it was closed."""

    id: str
    plan: dict
    made_ms: int
    is_open: bool
    is_covered: bool
    runs: list[RunResult]
    changes: list[tuple[int, dict]]
    uncovered: list[tuple[int, str, str]]
    closed: tuple[int, str] | None

    @property
    def drift(self) -> str:
        """Whether the reference took as long later on as at the start; the greatest departure counts, wherever it came."""
        times = [run.trial.spans["round"].seconds for run in self.runs if run.is_reference and run.state == "kept" and run.trial and "round" in run.trial.spans]
        times = [time for time in times if time]
        if self.plan["reference"] is None:
            return "There was no reference in this session, so a drift of the torch would not show."
        if len(times) < 2:
            return "Too few runs of the reference were kept to tell a drift."
        far = max(times[1:], key=lambda time: abs(log(time / times[0])))
        percent = round(100 * (far / times[0] - 1))
        told = ", then ".join(f"{time:.1f}" for time in times)
        where = "at the end" if far == times[-1] else "in between"
        return f"The reference was round after {told} s: " + ("no drift." if percent == 0 else f"{abs(percent)} % {'slower' if percent > 0 else 'faster'} {where}.")


def _best(tests: list) -> Trial | Measured | None:
    """The test that counts: the first that was kept, else the last that is being made, else the last one stopped. Their ids tell which was made first, here as on the tablet."""
    tests = sorted(tests, key=lambda test: test.id)
    kept, made = ([t for t in tests if t.status in words] for words in (("kept",), ("ready", "running", "done", "incomplete")))
    return kept[0] if kept else made[-1] if made else tests[-1] if tests else None


def _run(plan: dict, index: int, tests: list, elsewhere: dict, is_covered: bool, newest: dict[str, str]) -> RunResult:
    run, glass = plan["runs"][index], plan["glasses"][plan["runs"][index]["glass"]]
    best = _best(tests)
    said, state, why = elsewhere.get(index, ("", "to come", ""))
    if best and (best.status == "kept" or said < newest.get(best.id, "")):  # what was said of the run later than its test goes before it
        state, why = best.status, ""
    name = None if is_covered else glass["piece"] or glass["name"]
    trial, measured = (best if not is_covered and isinstance(best, kind) else None for kind in (Trial, Measured))
    return RunResult(run["code"], name, run["is_reference"], state, why, trial, max(0, len(tests) - 1), measured)


def _changes(first: dict, later: list[dict]) -> list[tuple[int, dict]]:
    """(when, what had changed since before) of each change that was one."""
    before, found = first, []
    for entry in later:
        now = entry["body"]["conditions"]
        found.append((entry["at_ms"], {key: value for key, value in now.items() if value != before[key]}))
        before = now
    return [(at_ms, changed) for at_ms, changed in found if changed]


def session_from(entries: list[dict], trials: dict[int, list[Trial]], measured: dict[int, list[Measured]], newest: dict[str, str]) -> SessionResult:
    """How a session stands. entries: of one session, in order, with its plan; trials and measured tests: by run; newest: id of the last entry of each of them."""
    made = next(entry for entry in entries if entry["kind"] == "plan.made")
    plan = made["body"]
    of = {kind: [e for e in entries if e["kind"] == kind] for kind in ("plan.conditions", "plan.unblinded", "plan.closed")}
    is_open = not of["plan.closed"]
    is_covered = plan["is_blind"] and is_open and not any(e["body"]["what"] == "all" for e in of["plan.unblinded"])
    words = {"plan.skipped": "left out", "plan.done": "done", "plan.reopened": "to come"}
    said = {run: statements[-1] for run, statements in said_of_runs(entries).items()}
    elsewhere = {run: (one["id"], words[one["kind"]], one["body"]["why"]) for run, one in said.items()}
    return SessionResult(
        id=made["subject"],
        plan=plan,
        made_ms=made["at_ms"],
        is_open=is_open,
        is_covered=is_covered,
        runs=[_run(plan, i, [*trials.get(i, []), *measured.get(i, [])], elsewhere, is_covered, newest) for i in range(len(plan["runs"]))],
        changes=_changes(plan["conditions"], of["plan.conditions"]),
        uncovered=[(e["at_ms"], e["body"]["what"], e["body"]["why"]) for e in of["plan.unblinded"]],
        closed=next(((e["at_ms"], e["body"]["why"]) for e in of["plan.closed"]), None),
    )
