"""What else the desk knows of a piece: its measured tests and its analysis, as lines in kelvins against a reference, or as sentences."""

import re
from dataclasses import dataclass
from math import hypot, isfinite

from sqlmodel import Session

from server.errors import Missing
from server.finding.unknown import analysis_line, ratio_line
from server.glass import catalog, own
from server.measure import log as measure_log
from server.measure.kinds import LETTERS, known_tests
from server.measure.reckon import reckoned
from server.measure.shape import Lane
from server.physics.agreement import Line
from server.physics.table import table
from server.store.log import UUID

HEATS = {"pull": "pull_c", "fuse": "peak_c"}


@dataclass(frozen=True)
class Known:
    """A kept measured test of the piece: its number, the name of the test, and what it came to."""

    id: str
    name: str
    sentence: str


def own_or_catalogued(session: Session, key: str) -> catalog.Glass:
    """The glass of a key, own or published. Raises Missing."""
    number = key.removeprefix("own/")
    return own.find(session, number) if re.fullmatch(UUID, number) else catalog.find(key)


def softening(session: Session, key: str) -> dict | None:
    """{c, u_k, u95_k, vft} of a known glass's estimate; None where there is none."""
    try:
        report = own_or_catalogued(session, key).report
    except Missing:
        return None
    if not report or not report.get("vft"):
        return None
    point = report["points"]["softening"]
    return {"c": point["t_c"], "u_k": point["u_k"], "u95_k": point["u95_k"], "vft": report["vft"]}


def _ratio(lane: Lane, unknown: str, reference: str) -> tuple[float, float, float] | None:
    """(ratio, low95, high95) of the unknown over the reference where the lane is of these two; its label ends each side with a letter."""
    sides = [re.search(r"([A-L])\)?$", side.strip()) for side in lane.label.split("÷")]
    letters = [found[1] for found in sides if found]
    if letters == [unknown, reference]:
        return lane.value, lane.low95, lane.high95
    return (1 / lane.value, 1 / lane.high95, 1 / lane.low95) if letters == [reference, unknown] else None


def expansion(session: Session, key: str) -> tuple[float, float] | None:
    """(mean expansion 20 to 300 °C, its 95 % half-width), both in 1e-7/K, of a known glass's estimate; None where there is none."""
    try:
        alpha = own_or_catalogued(session, key).report.get("alpha") or {}
    except Missing:
        return None
    return (alpha["value_1e7_k"], alpha["u95_1e7_k"]) if alpha.get("value_1e7_k") is not None else None


@dataclass(frozen=True)
class Evidence:
    """Lines in K and in 1e-7/K against the reference, and every kept measured test of the piece."""

    kelvin: list[Line]
    expansion: list[Line]
    known: list[Known]


def gathered(session: Session, piece: str, own_key: str, reference_key: str) -> Evidence:
    """What the desk knows of a piece. Tests of covered sessions tell nothing, so they are not among them."""
    made = Evidence([], [], [])
    reference, shrinks = softening(session, reference_key), expansion(session, reference_key)
    for measured in measure_log.all_measured(session):
        at = next((i for i, glass in enumerate(measured.glasses) if glass["piece"] == piece), None)
        if measured.status != "kept" or at is None or (result := reckoned(session, measured)) is None:
            continue
        name = known_tests()[measured.test]["name"]
        made.known.append(Known(measured.id, name, result.sentence))
        other = next((i for i, glass in enumerate(measured.glasses) if glass["key"] == reference_key and not glass["piece"]), None)
        made.kelvin.extend(_kelvin_lines(measured, result.lanes, at, other, reference))
        made.expansion.extend(_expansion_lines(measured, result.lanes, at, other, shrinks))
    if own_key and (line := analysis_line(softening(session, own_key), reference, "Analysis, estimated")):
        made.kelvin.append(line)
    own_shrinks = expansion(session, own_key) if own_key else None
    if own_shrinks and shrinks:
        made.expansion.append(Line("Analysis, estimated", own_shrinks[0] - shrinks[0], hypot(own_shrinks[1], shrinks[1]), "analysis"))
    return made


def _kelvin_lines(measured: measure_log.Measured, lanes: tuple[Lane, ...], at: int, other: int | None, reference: dict | None) -> list[Line]:
    """Ratios of viscosities of piece and reference, pulled or fused, as kelvins."""
    heat = measured.setup.get(HEATS.get(measured.test, ""))
    if other is None or not heat:
        return []
    found = [_ratio(lane, LETTERS[at], LETTERS[other]) for lane in lanes]
    curve, u_k = reference and reference["vft"], measured.setup.get("u_pull_c", table("slump")["peak_u_k"]["value"])
    made = [ratio_line(known_tests()[measured.test]["name"], measured.test, *ratio, heat, u_k, curve) for ratio in found if ratio]
    return [line for line in made if line]


def _expansion_lines(measured: measure_log.Measured, lanes: tuple[Lane, ...], at: int, other: int | None, shrinks: tuple[float, float] | None) -> list[Line]:
    """How much more the piece shrinks than the reference: of a thread of both, or of strips beside the reference's estimate."""
    name = known_tests()[measured.test]["name"]
    whole = [lane for lane in lanes if lane.low95 is not None and lane.high95 is not None and isfinite(lane.low95) and isfinite(lane.high95) and lane.high95 > lane.low95]
    if measured.test == "thread" and other is not None:
        sign = 1 if at == 0 else -1
        return [Line(name, sign * lane.value, (lane.high95 - lane.low95) / 2, "thread") for lane in whole[:1]]
    if measured.test == "strip" and shrinks:
        return [Line(name, lane.value - shrinks[0], hypot((lane.high95 - lane.low95) / 2, shrinks[1]), "strip") for lane in whole if lane.label == "Strips alone"]
    return []
