"""Pure: what the analysis and one torch number would have foreseen of each trial of a session, beside what the stopwatch said."""

from dataclasses import dataclass

import numpy as np

from server.errors import Failure
from server.finding.selection import Timed
from server.finding.unknown import counting
from server.physics.forecast import STAGES, Range, Torch, forecast, torch_number
from server.physics.table import table


@dataclass(frozen=True)
class Seen:
    """One time of one trial, s, and the range that was foreseen for it."""

    trial: str
    label: str
    stage: str
    observed_s: float
    foreseen: Range


@dataclass(frozen=True)
class Foreseen:
    """A session: the torch number from its reference runs, or why there is none; every time that could be foreseen; glasses without an estimate; (glass or piece, why) of trials beyond what can be foreseen."""

    session: str
    torch: Torch | None
    why: str
    seen: tuple[Seen, ...]
    unknown: tuple[str, ...]
    beyond: tuple[tuple[str, str], ...] = ()

    def inside(self, stage: str, share: int) -> tuple[int, int]:
        """(how many of a stage's times lie in the range that should hold `share` of 100, how many there are)."""
        own = [one for one in self.seen if one.stage == stage]
        return sum(one.foreseen.holds(one.observed_s, share) for one in own), len(own)


def torch_of(reference: list[Timed], estimate: dict | None) -> tuple[Torch | None, str]:
    """The torch number from the sag times of the reference runs, and the rounding number from their rounding. estimate: {vft, u_k} of their glass."""
    own = counting(reference, "sag")
    if not own:
        return None, "No run of the reference has a sag time that counts."
    if not estimate:
        return None, "The reference has no estimated viscosity curve, so no torch number can be fitted."
    logs = np.log([row.seconds["sag"] for row in own])
    u_time = float(logs.std(ddof=1) / len(own) ** 0.5) if len(own) > 1 else table("flame")["forecast"]["sag_ln"]  # one run: what a single sag time is off by
    rounded = [row.seconds["round"] for row in counting(reference, "round")]
    mass, heat = (float(np.mean([getattr(row, name) for row in own])) for name in ("mass_g", "preheat_c"))
    try:
        return torch_number(float(np.exp(logs.mean())), mass, estimate["vft"], heat, u_time, estimate["u_k"], float(np.exp(np.log(rounded).mean())) if rounded else None), ""
    except Failure as error:
        return None, error.message


def foreseen(session: str, reference: list[Timed], others: list[Timed], estimates: dict[str, dict]) -> Foreseen:
    """How a session was foreseen. estimates: key of a glass -> {vft, u_k}; trials of glasses without one are named."""
    torch, why = torch_of(reference, estimates.get(reference[0].glass_key) if reference else None)
    unknown = sorted({row.label for row in others if row.glass_key not in estimates})
    seen: list[Seen] = []
    beyond: list[tuple[str, str]] = []
    for row in others if torch else ():
        if row.glass_key not in estimates:
            continue
        try:
            ranges = forecast(estimates[row.glass_key]["vft"], estimates[row.glass_key]["u_k"], row.mass_g, row.preheat_c, torch.h_w_m2k, torch.u_ln, torch.round_dose)
        except Failure as error:
            beyond.append((row.label, error.message))
            continue
        seen += [Seen(row.trial, row.label, stage, row.seconds[stage], ranges[stage]) for stage in STAGES if stage in row.seconds and stage not in row.whys]
    return Foreseen(session, torch, why, tuple(seen), tuple(unknown), tuple(dict.fromkeys(beyond)))
