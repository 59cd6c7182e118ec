"""The invented bench: a tablet that makes entries, a trial as it goes, and how long each glass takes. All of it by a seed."""

from dataclasses import dataclass
from datetime import UTC, datetime
from math import exp
from random import Random

from demo.glasses import GLASSES, KEEPER

TORCH = "demo torch, propane and air, 5 cm from the inner cone"
OPERATOR = "Demo hand"
FIRST_DAY = datetime(2026, 3, 10, 9, 0, tzinfo=UTC)
SCATTER = 0.09
MASS_EXPONENT = 0.4


@dataclass(frozen=True)
class Heated:
    """What is heated, and its usual times in s for 2 g. `own` names an own analysis; `piece` a find."""

    sag_s: float
    round_s: float
    glow_s: float
    own: str = ""
    key: str = ""
    name: str = ""
    piece: str | None = None
    times_a_day: int = 3


class Tablet:
    """Makes entries as a tablet does. Ids are of version 7, their random part comes from the seed."""

    def __init__(self, seed: int):
        self.random = Random(seed)
        self.device = self.new_id(int(FIRST_DAY.timestamp() * 1000))

    def new_id(self, at_ms: int) -> str:
        """A UUIDv7 of this moment."""
        head, low = f"{at_ms:012x}", f"{0x8000 | self.random.getrandbits(14):04x}"
        return f"{head[:8]}-{head[8:]}-7{self.random.getrandbits(12):03x}-{low}-{self.random.getrandbits(48):012x}"

    def entry(self, kind: str, subject: str, n: int, at_ms: float, body: dict) -> dict:
        """One entry as on the wire."""
        return {"id": self.new_id(int(at_ms)), "kind": kind, "subject": subject, "n": n, "device": self.device, "at_ms": int(at_ms), "body": body}


class Bench:
    """One trial on a tablet: entries in the order in which they were made. Times in s after the first press."""

    def __init__(self, tablet: Tablet, start_ms: float, page: str):
        self.tablet, self.start_ms, self.page = tablet, start_ms, page
        self.subject = tablet.new_id(int(start_ms))
        self.entries: list[dict] = []
        self.clock_step_ms = 0.0

    def add(self, kind: str, at_s: float, body: dict) -> dict:
        """The next entry of this trial."""
        at_ms = self.start_ms + at_s * 1000 + self.clock_step_ms
        self.entries.append(self.tablet.entry(kind, self.subject, len(self.entries), at_ms, body))
        return self.entries[-1]

    def stamp(self, stage: str, at_s: float) -> dict:
        """A press by both clocks; the page was loaded four seconds before the flame."""
        wall_ms = self.start_ms + at_s * 1000 + self.clock_step_ms
        return {"stage": stage, "wall_ms": wall_ms, "mono_ms": 4000.0 + at_s * 1000, "page": self.page, "was_hidden": False}

    def start(self, setup: dict) -> None:
        """Into the flame."""
        self.add("trial.started", 0.0, {**setup, "press": self.stamp("flame_in", 0.0)})

    def press(self, stage: str, at_s: float) -> dict:
        """A stage is reached."""
        return self.add("trial.pressed", at_s, self.stamp(stage, at_s))

    def press_too_early(self, stage: str, at_s: float) -> None:
        """A press that is taken back two seconds later."""
        wrong = self.press(stage, at_s)
        self.add("trial.taken_back", at_s + 2.0, {"entry": wrong["id"]})


def setup_of(heated: Heated, mass_g: float, keys: dict[str, str]) -> dict:
    """The body of the start without its press."""
    analysis = GLASSES.get(heated.own)
    is_find = heated.piece is not None
    return {
        "glass_key": keys[heated.own] if analysis else heated.key or None,
        "glass_name": analysis.name if analysis else heated.name,
        "piece": heated.piece,
        "consent": True if is_find else None,
        "keeper": KEEPER if is_find else None,
        "mass_g": mass_g,
        "preheat_c": 500.0,
        "torch": TORCH,
        "operator": OPERATOR,
    }


def times_of(heated: Heated, mass_g: float, random: Random, piece_factor: float) -> dict[str, float]:
    """Seconds after the first press at which each stage is reached; scatter is log-normal."""
    scale = piece_factor * (mass_g / 2.0) ** MASS_EXPONENT
    sag, round_, glow = (usual * scale * exp(random.gauss(0.0, SCATTER)) for usual in (heated.sag_s, heated.round_s, heated.glow_s))
    out = round_ + random.uniform(2.5, 8.0)
    return {"sagged": sag, "round": round_, "flame_out": out, "glow_gone": out + glow}
