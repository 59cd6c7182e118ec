"""Pure: the entries of a session and its trials -> how it went, for the desk."""

from dataclasses import dataclass

from server.trial.order import runs_of
from server.trial.timing import Trial


@dataclass(frozen=True)
class RunResult:
    """One run: `name` is None while the session is covered; `trial` is the one that counts, `others` the stopped ones before it."""

    code: str
    name: str | None
    is_reference: bool
    state: str
    why: str
    trial: Trial | None
    others: int


@dataclass(frozen=True)
class SessionResult:
    """One session. `changes` are the conditions later on with their time; `uncovered` what was uncovered before the end."""

    id: str
    plan: dict
    made_ms: int
    is_open: bool
    is_covered: bool
    runs: list[RunResult]
    changes: list[tuple[int, dict]]
    uncovered: list[tuple[int, str, str]]

    @property
    def drift(self) -> str:
        """Whether the reference took as long at the end as at the start."""
        times = [run.trial.spans["round"].seconds for run in self.runs if run.is_reference and run.state == "kept" and run.trial and "round" in run.trial.spans]
        times = [time for time in times if time]
        if self.plan["reference"] is None:
            return "There was no reference in this session, so a drift of the torch would not show."
        if len(times) < 2:
            return "Too few runs of the reference were kept to tell a drift."
        percent = round(100 * (times[-1] / times[0] - 1))
        told = ", then ".join(f"{time:.1f}" for time in times)
        return f"The reference was round after {told} s: " + ("no drift." if percent == 0 else f"{abs(percent)} % {'slower' if percent > 0 else 'faster'} at the end.")


def _run(plan: dict, index: int, trials: list[Trial], elsewhere: dict, is_covered: bool) -> RunResult:
    run, glass = plan["runs"][index], plan["glasses"][plan["runs"][index]["glass"]]
    best = next((t for t in trials if t.status == "kept"), None) or next((t for t in trials if t.status != "abandoned"), None) or (trials[-1] if trials else None)
    state, why = ("kept" if best.status == "kept" else best.status, "") if best else elsewhere.get(index, ("to come", ""))
    name = None if is_covered else glass["piece"] or glass["name"]
    return RunResult(run["code"], name, run["is_reference"], state, why, None if is_covered else best, max(0, len(trials) - 1))


def session_from(entries: list[dict], trials: dict[int, list[Trial]]) -> SessionResult:
    """How a session stands. entries: of one session, in order, with its plan; trials: by run."""
    made = next(entry for entry in entries if entry["kind"] == "plan.made")
    plan = made["body"]
    of = {kind: [e for e in entries if e["kind"] == kind] for kind in ("plan.conditions", "plan.unblinded", "plan.skipped", "plan.done", "plan.closed")}
    is_open = not of["plan.closed"]
    is_covered = plan["is_blind"] and is_open and not any(e["body"]["what"] == "all" for e in of["plan.unblinded"])
    elsewhere = {e["body"]["run"]: ("left out" if kind == "plan.skipped" else "done", e["body"]["why"]) for kind in ("plan.skipped", "plan.done") for e in of[kind]}
    return SessionResult(
        id=made["subject"],
        plan=plan,
        made_ms=made["at_ms"],
        is_open=is_open,
        is_covered=is_covered,
        runs=[_run(plan, i, trials.get(i, []), elsewhere, is_covered) for i in range(len(plan["runs"]))],
        changes=[(e["at_ms"], e["body"]["conditions"]) for e in of["plan.conditions"]],
        uncovered=[(e["at_ms"], e["body"]["what"], e["body"]["why"]) for e in of["plan.unblinded"]],
    )


def follows_its_seed(plan: dict) -> bool:
    """Whether the order is the one that the seed gives."""
    return plan["runs"] == runs_of(plan["seed"], len(plan["glasses"]), plan["repeats"], plan["reference"])
