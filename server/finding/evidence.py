"""What else the desk knows of a piece: its measured tests and its analysis, as lines in kelvins against a reference, or as sentences."""

import re
from dataclasses import dataclass

from sqlmodel import Session

from server.errors import Missing
from server.finding.unknown import analysis_line, ratio_line
from server.glass import catalog, own
from server.measure import log as measure_log
from server.measure.kinds import LETTERS, known_tests
from server.measure.reckon import reckoned
from server.measure.shape import Lane
from server.physics.agreement import Line
from server.store.log import UUID

KILN_U_K = 15.0  # how far a kiln's reading may be off: judgement
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


def gathered(session: Session, piece: str, own_key: str, reference_key: str) -> tuple[list[Line], list[Known]]:
    """(lines against the reference, every kept measured test of the piece). Tests of covered sessions tell nothing, so they are not among them."""
    lines, known = [], []
    reference = softening(session, reference_key)
    for measured in measure_log.all_measured(session):
        at = next((i for i, glass in enumerate(measured.glasses) if glass["piece"] == piece), None)
        if measured.status != "kept" or at is None or (result := reckoned(session, measured)) is None:
            continue
        name = known_tests()[measured.test]["name"]
        known.append(Known(measured.id, name, result.sentence))
        other = next((i for i, glass in enumerate(measured.glasses) if glass["key"] == reference_key and not glass["piece"]), None)
        heat = measured.setup.get(HEATS.get(measured.test, ""))
        for lane in result.lanes if other is not None and heat else ():
            ratio = _ratio(lane, LETTERS[at], LETTERS[other])
            if ratio and (line := ratio_line(name, measured.test, *ratio, heat, measured.setup.get("u_pull_c", KILN_U_K), reference and reference["vft"])):
                lines.append(line)
    if own_key and (line := analysis_line(softening(session, own_key), reference, "Analysis, estimated")):
        lines.append(line)
    return lines, known
