"""What a measured test comes to, in words and numbers."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Lane:
    """One value with its intervals, for the picture. The ends are in the axis's unit; None where nothing is known beyond."""

    label: str
    value: float
    low68: float
    high68: float
    low95: float
    high95: float


@dataclass(frozen=True)
class Result:
    """The plain sentence first; `refused` says why there is no number, then `lanes` is empty."""

    sentence: str
    rows: tuple[tuple[str, str], ...] = ()
    refused: str | None = None
    cautions: tuple[str, ...] = ()
    advice: tuple[str, ...] = ()
    lanes: tuple[Lane, ...] = ()
    axis: str = ""
    unit: str = ""
    is_log: bool = False
    sources: tuple[str, ...] = field(default=())
