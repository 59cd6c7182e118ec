"""Entries of finds and pieces as tablets make them, for tests. All names are invented."""

import base64
import uuid
from random import Random

from tests.entries import DEVICE, WALL_0, entry, whole_trial

OTHER_DEVICE = "018f0000-0000-7000-8000-0000000000d2"
FACTS = {"site": "Demo Nowhere Quay", "context": "", "number": "17", "keeper": "Demo keeper", "loan_from": "2026-01-10", "due": "2027-01-10", "note": ""}
CONSENT = {"state": "given", "by": "Demo keeper", "on": "2026-02-01", "limit_g": None, "limit_piece_g": None, "tests": ["flame", "fuse"], "note": ""}
PIECE = {"label": "Demo sherd", "code": "KF7M4", "colour": "", "opacity": "", "condition": "", "glass_key": None, "glass_name": "", "link": "none", "note": ""}
TESTS = ("flame", "fuse", "strip", "pull", "thread")
JFIF = b"\xff\xe0\x00\x10JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"  # ITU-T T.871: version 1.1, square pixels, no small picture


def jpeg_of(*segments: bytes, scan: bytes = b"\xff\xda\x00\x02\x00", end: bytes = b"\xff\xd9") -> str:
    """Base64 of what begins and ends as a JPEG does: start, these segments, a scan, end (ITU-T T.81, B.1)."""
    return base64.b64encode(b"\xff\xd8" + b"".join(segments) + scan + end).decode()


def segment(marker: int, content: bytes) -> bytes:
    """0xFF, marker, length in two bytes, content."""
    return bytes([0xFF, marker]) + (2 + len(content)).to_bytes(2, "big") + content


TINY_JPEG = jpeg_of(JFIF)


def subject() -> str:
    return str(uuid.uuid4())


def opened(find: str, **facts) -> dict:
    return entry("find.opened", find, 0, {**FACTS, **facts})


def consent(find: str, at_ms: int = WALL_0, **said) -> dict:
    return entry("find.consent", find, 1, {**CONSENT, **said}, at_ms)


def added(piece: str, find: str, **facts) -> dict:
    return entry("piece.added", piece, 0, {**PIECE, "find": find, **facts})


def changed(statement: dict, at_ms: int, over: list[str] | None = None, device: str = DEVICE, **facts) -> dict:
    """The facts of a find or piece anew, after some statement of them. `over` None: as an older Isokom said it."""
    kind = statement["kind"].split(".")[0] + ".changed"
    body = {**{name: value for name, value in statement["body"].items() if name != "over"}, **facts}
    return entry(kind, statement["subject"], 8, body | ({} if over is None else {"over": over}), at_ms, device)


def weighed(piece: str, mass_g: float, at_ms: int = WALL_0, u_g: float | None = None, device: str = DEVICE) -> dict:
    return entry("piece.weighed", piece, 1, {"mass_g": mass_g, "u_g": u_g}, at_ms, device)


def cut(piece: str, into: str, mass_g: float, at_ms: int = WALL_0) -> dict:
    return entry("piece.cut", piece, 2, {"into": into, "mass_g": mass_g}, at_ms)


def used(piece: str, mass_g: float, test: str = "flame", trial: str | None = None, at_ms: int = WALL_0, device: str = DEVICE) -> dict:
    return entry("piece.used", piece, 3, {"mass_g": mass_g, "test": test, "trial": trial}, at_ms, device)


def lost(piece: str, mass_g: float, why: str = "fell", at_ms: int = WALL_0) -> dict:
    return entry("piece.lost", piece, 4, {"mass_g": mass_g, "why": why}, at_ms)


def returned(piece: str, mass_g: float, to: str = "Demo keeper", at_ms: int = WALL_0) -> dict:
    return entry("piece.returned", piece, 5, {"mass_g": mass_g, "to": to}, at_ms)


def undone(row: dict, why: str = "typed wrong", at_ms: int = WALL_0) -> dict:
    return entry("piece.undone", row["subject"], 6, {"entry": row["id"], "why": why}, at_ms)


def photo(piece: str, jpeg: str = TINY_JPEG, **more) -> dict:
    return entry("piece.photo", piece, 7, {"jpeg": jpeg, "width": 4, "height": 3, "caption": "Demo", **more})


def any_act(dice: Random, pieces: list[str], earlier: list[dict]) -> dict:
    """One act at a random moment, by either of two tablets whose clocks disagree."""
    piece, mass_g = dice.choice(pieces), dice.choice([round(dice.uniform(0.001, 6), dice.randrange(1, 5)), 0.1, 0.2, 1e-6, 2.5])
    at_ms = WALL_0 + dice.randrange(40)
    others = [one for one in pieces if one != piece]
    rows = [e for e in earlier if e["kind"] in ("piece.weighed", "piece.cut", "piece.used", "piece.lost", "piece.returned", "piece.photo")]
    kinds = ["weighed"] * 3 + ["used"] * 3 + ["cut"] * 2 + ["lost", "returned", "photo"] + (["undone"] * 2 if rows else [])
    match dice.choice(kinds):
        case "weighed":
            return weighed(piece, dice.choice([0, mass_g * 3, mass_g]), at_ms, dice.choice([None, 0.01]), dice.choice([DEVICE, OTHER_DEVICE]))
        case "used":
            return used(piece, mass_g, dice.choice(TESTS), dice.choice([None, subject()]), at_ms, dice.choice([DEVICE, OTHER_DEVICE]))
        case "cut":
            return cut(piece, dice.choice(others), mass_g, at_ms)
        case "lost":
            return lost(piece, mass_g, at_ms=at_ms)
        case "returned":
            return returned(piece, mass_g, at_ms=at_ms)
        case "photo":
            return photo(piece) | {"at_ms": at_ms}
        case _:
            return undone(dice.choice(rows), at_ms=at_ms)


def history(seed: int) -> list[dict]:
    """Entries of two finds with four pieces, of which one is not known here, in the order in which they arrived anywhere."""
    dice = Random(seed)
    finds, pieces = [subject(), subject()], [subject() for _ in range(5)]
    made = [opened(finds[0], due=dice.choice(["", "2026-01-10", "2027-01-10"]), loan_from=""), opened(finds[1], number="44")]
    for _ in range(dice.randrange(4)):
        limits = {name: dice.choice([None, 0.5, 3.0, 9.0]) for name in ("limit_g", "limit_piece_g")}
        tests = dice.sample(TESTS, dice.randrange(1, 6))
        earlier = [one["id"] for one in made if one["kind"] == "find.consent" and dice.random() < 0.5]
        over = {} if dice.random() < 0.3 else {"over": earlier}
        made.append(consent(finds[0], WALL_0 + dice.randrange(40), state=dice.choice(["asked", "given", "given", "given", "refused"]), tests=tests, on=dice.choice(["", "2026-02-01"]), **limits, **over))
    made += [added(piece, dice.choice(finds), label=f"Demo {i}") for i, piece in enumerate(pieces[:4])]
    for _ in range(dice.randrange(4)):
        stated = [one for one in made if one["kind"].split(".")[1] in ("opened", "added", "changed")]
        base = dice.choice(stated)
        over = dice.choice([None, [], [base["id"]], [one["id"] for one in stated if one["subject"] == base["subject"]]])
        made.append(changed(base, WALL_0 + dice.randrange(40), over, note=dice.choice(["", "Demo remark", "Demo other remark"])))
    for _ in range(dice.randrange(30)):
        made.append(any_act(dice, pieces, made))
    made += whole_trial(pieces[0])[:2]  # entries of others are passed over
    made.append(entry("glass.added", pieces[1], 0, {"name": "Demo glass"}))
    dice.shuffle(made)
    return made
