"""Pure: a measured test in words, as a table of its readings, and as CSV."""

import csv
import io
from collections.abc import Iterable
from datetime import UTC, datetime

from server.measure.kinds import LETTERS, known_tests
from server.measure.log import Change, Measured

STATUS_WORDS = {"running": "not kept yet", "kept": "kept", "stopped": "stopped", "incomplete": "still missing entries", "covered": "covered until its blind session is closed"}
CSV_COLUMNS = (
    "test_id,test,title,status,reason,started_utc,operator,letter,glass_key,glass_name,piece,consent,"
    "place,quantity,unit,value,word,read_utc,why,readings_made,device,session,code"
).split(",")
MASS_READ_G = 0.01  # what one weighing may be off: the last digit that the card asks for
ENTRY_WORDS = {"started": "Set up", "read": "Reading", "photo": "Photo", "noted": "Note", "kept": "Kept", "abandoned": "Stopped"}


def number(value: float, digits: int) -> str:
    """A reading as it was likely written: its usual digits, or more where it has more."""
    usual = f"{value:.{digits}f}"
    return usual if abs(float(usual) - value) < 1e-9 else f"{value:g}"


def said(quantity: dict, value: float | str | None) -> str:
    """A reading as one would say it, without its unit; an en dash for nothing."""
    if value is None:
        return "–"
    if isinstance(value, str):
        words = quantity.get("words", {})
        return words.get(value, value) if isinstance(words, dict) else value
    return number(value, quantity.get("digits", 2))


def name_of(measured: Measured) -> str:
    """What a person would call the test."""
    if measured.test is None:
        return "A test whose start is missing"
    return measured.title or f"{known_tests()[measured.test]['name']} of {' and '.join(glass_words(g) for g in measured.glasses[:3])}{' …' if len(measured.glasses) > 3 else ''}"


def glass_words(glass: dict) -> str:
    """A glass, or the piece with what it is taken for."""
    return f"{glass['piece']} (taken for {glass['name']})" if glass["piece"] and glass["piece"] != glass["name"] else glass["name"]


def status_words(measured: Measured) -> str:
    """How the test stands, with the reason where it was stopped."""
    return STATUS_WORDS[measured.status] + (f": {measured.reason}" if measured.reason else "")


def utc(ms: int | None) -> str:
    """Epoch ms as ISO 8601 UTC to the second; empty for nothing."""
    return "" if ms is None else datetime.fromtimestamp(ms / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def place_words(measured: Measured, place: str) -> str:
    """A place with the letter of its glass, on a session's board also with its dish: 'Chip 2 (B)', 'Square a1 (B, dish KX)'."""
    letter, code = measured.letter_at(place), measured.code_at(place) if measured.test == "fuse" else ""
    told = ", ".join(said for said in (letter, code and f"dish {code}") if said)
    return f"{known_tests()[measured.test]['place']} {place}{f' ({told})' if told else ''}"


def table(measured: Measured) -> dict:
    """{heads: [(quantity, words, unit)], rows: [(place words, [cell])]}: what was read, one row a place. A cell is (text, was it changed)."""
    if measured.test is None:
        return {"heads": [], "rows": []}
    kinds = known_tests()[measured.test]["quantities"]
    read = {quantity for _place, quantity in measured.history}
    heads = [(name, about["short"], about.get("unit", "")) for name, about in kinds.items() if name in read]
    places = sorted({place for place, _quantity in measured.history})
    cells = [
        (place_words(measured, place), [(said(kinds[q], measured.readings.get((place, q))), len(measured.history.get((place, q), ())) > 1) for q, _w, _u in heads])
        for place in places
    ]
    return {"heads": heads, "rows": cells}


def setup_rows(measured: Measured) -> list[tuple[str, str]]:
    """(words, answer with its unit) of the setup."""
    if measured.test is None:
        return []
    asked = known_tests()[measured.test]["setup"]
    rows = []
    for name, about in asked.items():
        if name in measured.setup:
            given = measured.setup[name]
            text = about.get("words", {}).get(given, given) if isinstance(given, str) else f"{given:g}"
            rows.append((about["label"], f"{text} {about['unit']}" if about.get("unit") else str(text)))
    return rows


def mass_gaps(measured: Measured) -> list[tuple[str, str]]:
    """(sentence, id of the piece) for each piece of a fuse test whose chips together weigh other than what was said to be used up of it.

    While chips lie unweighed, only more than that is worth a word.
    """
    found = []
    if measured.session:  # what a session's board used up is written from these very readings
        return found
    for letter, glass in zip(LETTERS, measured.glasses, strict=False):
        squares = [place for (place, quantity), said in measured.readings.items() if measured.test == "fuse" and quantity == "glass" and said == letter]
        masses = [measured.readings[place, "mass_g"] for place in squares if (place, "mass_g") in measured.readings]
        if not masses or not glass["piece_id"] or glass["mass_g"] is None:
            continue
        over, room = sum(masses) - glass["mass_g"], MASS_READ_G * len(masses) + 1e-9
        if over > room or (over < -room and len(masses) == len(squares)):
            what = f"chip{'s' if len(masses) > 1 else ''} of {glass['piece'] or glass['name']} ({letter}) weigh{'' if len(masses) > 1 else 's'}"
            found.append((f"The {what} {sum(masses):.2f} g, but {glass['mass_g']:g} g was said to be used up.", glass["piece_id"]))
    return found


def entry_words(measured: Measured, entry: dict) -> str:
    """What one entry says."""
    kind, body = entry["kind"].removeprefix("measure."), entry["body"]
    told = ENTRY_WORDS[kind]
    if kind == "read":
        about = known_tests()[measured.test]["quantities"].get(body["quantity"]) if measured.test else None
        if about is None:
            return f"{told}: {body['quantity']} at {body['place']}"
        value = body["value"] if body["value"] is not None else body["word"] or None
        unit = f" {about['unit']}" if about.get("unit") and value is not None else ""
        told = f"{place_words(measured, body['place'])}, {about['short'].lower()}: {said(about, value) if value is not None else 'taken back'}{unit}"
        return f"{told}. Why: {body['why']}" if body.get("why") else told
    more = body.get("text") or body.get("reason") or body.get("caption") or ""
    return f"{told}: {more}" if more else told


def harmless(text: str) -> str:
    """A cell that no spreadsheet runs as a formula."""
    return f"'{text}" if text.lstrip()[:1] in ("=", "+", "-", "@") else text


def _csv_row(measured: Measured, place: str, quantity: str, changes: tuple[Change, ...]) -> list:
    about, latest = known_tests()[measured.test]["quantities"][quantity], changes[-1]
    letter = measured.letter_at(place)
    glass = measured.glass(letter) if letter else None
    named = [harmless(str((glass or {}).get(key) or "")) for key in ("key", "name", "piece")]
    agreed = {True: "yes", False: "no", None: ""}[measured.consent]
    is_number = isinstance(latest.said, float | int)
    return [
        measured.id, measured.test, harmless(measured.title), measured.status, harmless(measured.reason or ""), utc(measured.started_ms), harmless(measured.operator or ""), letter, *named, agreed,
        place, quantity, about.get("unit", ""), f"{latest.said:g}" if is_number else "", "" if is_number else latest.said or "", utc(latest.at_ms), harmless(latest.why), len(changes), measured.device,
        measured.session or "", harmless(measured.code_at(place)),
    ]  # fmt: skip


def as_csv(measured: Iterable[Measured]) -> str:
    """One row a reading that holds, or that was taken back (both value and word empty); comma-separated, with a header."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(CSV_COLUMNS)
    for one in measured:
        writer.writerows(_csv_row(one, place, quantity, changes) for (place, quantity), changes in one.history.items())
    return out.getvalue()


def count_sentence(measured: list[Measured]) -> str:
    """How many tests there are and how they stand."""
    if not measured:
        return "No measured test has arrived yet."
    told = [f"{sum(m.status == key for m in measured)} {words}" for key, words in STATUS_WORDS.items() if any(m.status == key for m in measured)]
    return f"{len(measured)} measured test{'s' if len(measured) != 1 else ''}: {', '.join(told)}."
