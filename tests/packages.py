"""Bench books to be packed, and packages to be brought in, for tests. All names are invented."""

import csv
import hashlib
import io
import json
import zipfile

from server.package.archive import write
from server.package.gather import entries, gather
from server.package.tables import licence
from server.plan.order import runs_of
from server.store.engine import Store
from server.sync.push import Batch, push
from tests.entries import WALL_0, entry, new_id, pressed, stamp, started, whole_trial
from tests.finds import added, consent, cut, opened, photo, used, weighed
from tests.measured import glass, read, start

CREATED = "2026-11-26T09:00:00Z"
SESSION, COVERED, LOST = (f"018f0000-0000-7000-8000-00000000000{n}" for n in (1, 2, 3))  # open; blind and running; its plan has not arrived
FIND, PIECE, CHILD, STRANGER = (f"018f0000-0000-7000-8000-0000000000e{n}" for n in (1, 2, 3, 4))
OWN, OTHER_OWN = "018f0000-0000-7000-8000-0000000000a1", "018f0000-0000-7000-8000-0000000000a2"
ODD_TEXTS = ("=1+1", "-2", "@home", "+49", ' "quoted", and more ', "a;b", "0012", "ÄÖ λ 玻璃", "1e5", "true", "'mark")
CONDITIONS = {"torch": "demo torch", "nozzle": "", "fuel": "propane", "cylinder": "", "distance_cm": 3.0, "holder": "", "room_c": None, "light": "", "operator": "=Demo hand"}
OWN_BODY = {
    "name": "=Demo cullet (invented)", "family": "", "period": "", "region": "", "source": "Invented figures", "note": "two\nlines, \"quoted\"", "surface": "section", "replaces": "", "method": "xrf", "n": 3,
    "amounts": [{"name": "SiO2", "text": "69,5", "unit": "wt", "sd": 0.4}, {"name": "Na2O", "text": "16", "unit": "wt"}, {"name": "MgO", "text": "<0.5", "unit": "wt"}, {"name": "Co", "text": "100", "unit": "ppm"}],
}  # fmt: skip


def planned(name: str, key: str | None = None, piece_id: str | None = None) -> dict:
    """A glass, or a piece, of a plan."""
    return {"key": key, "name": name, "piece_id": piece_id, "piece": f"{name} (piece)" if piece_id else None, "consent": True if piece_id else None}


def plan_of(session: str, test: str, is_blind: bool, glasses: list[dict]) -> dict:
    """plan.made, each glass once, the first as the reference."""
    body = {
        "title": f"Demo {test} (invented)", "test": test, "repeats": 1, "mass_g": 2.0, "preheat_c": 500.0, "minutes_each": 4.0, "is_blind": is_blind, "seed": "thrush", "reference": 0,
        "glasses": glasses, "runs": runs_of("thrush", len(glasses), 1, 0), "conditions": CONDITIONS, "margin_percent": 15.0,
    }  # fmt: skip
    return entry("plan.made", session, 0, body)


def open_session() -> list[dict]:
    """A session with a trial of an own glass and one of a piece; the second run was left out."""
    runs = runs_of("thrush", 2, 1, 0)
    own, piece = planned("Demo cullet", OWN), planned("Demo sherd", piece_id=CHILD)
    told = [plan_of(SESSION, "flame", False, [own, piece]), entry("plan.skipped", SESSION, 1, {"run": 1, "why": "broken"})]
    told += whole_trial(glass_key=OWN, glass_name="Demo cullet", session=SESSION, run=0, code=runs[0]["code"])
    return told + whole_trial(glass_key=None, glass_name="", piece="Demo sherd", piece_id=CHILD, consent=True, session=SESSION, run=2, code=runs[2]["code"])


def covered_tests() -> list[dict]:
    """A blind pull session that runs, a trial of a session whose plan has not arrived: nothing of them may be told."""
    code = runs_of("thrush", 2, 1, 0)[0]["code"]
    told = [plan_of(COVERED, "pull", True, [planned("Covert A (invented)", "covert-a"), planned("Covert B (invented)", "covert-b")])]
    dish = [{"run": 0, "code": code, "letter": "B", "place": ""}]
    first = start("pull", title="Covert title", glasses=[glass("Covert A (invented)", "covert-a"), glass("Covert B (invented)", "covert-b")], session=COVERED, dishes=dish)
    told += [first, read(first["subject"], 1, "1", "before_1_mm", 6.125)]
    return told + whole_trial(at_s=(0, 11.375, 31.0, 45.5, 55.25), glass_key="covert-c", glass_name="Covert C (invented)", session=LOST, run=0, code="QQ")


def corrected_trial() -> list[dict]:
    """Out of the kiln, a press that is taken back, one that is moved, as is that at the kiln; notes with line breaks."""
    subject = new_id()
    kiln = stamp("kiln_out", -3) | {"stage": "kiln_out"}
    first = started(subject, out_of_kiln=kiln, torch=ODD_TEXTS[0], operator=ODD_TEXTS[1], glass_key="modern-float", glass_name="Modern float glass")
    wrong, late = pressed(subject, 1, stamp("sagged", 5)), pressed(subject, 3, stamp("sagged", 14.25))
    told = [first, wrong, entry("trial.taken_back", subject, 2, {"entry": wrong["id"]}), late]
    told += [pressed(subject, n, stamp(stage, at_s)) for n, stage, at_s in ((4, "round", 31), (5, "flame_out", 45), (6, "glow_gone", 55))]
    told.append(entry("trial.corrected", subject, 7, {"entry": late["id"], "shift_ms": -250.0, "reason": "late", "text": "=looked away"}))
    told.append(entry("trial.corrected", subject, 8, {"entry": first["id"], "shift_ms": 100.0, "reason": "early", "text": "", "stage": "kiln_out"}))
    return [*told, entry("trial.left_out", subject, 70, {"lane": "glow", "why": "=door open"}), *(entry("trial.noted", subject, 9 + n, {"text": text}) for n, text in enumerate(ODD_TEXTS)), entry("trial.kept", subject, 60, {})]


MADE = {"glasses": [{"key": f"own/{OWN}", "name": "=base", "mass_g": 20.0}], "compounds": [{"compound": "malachite", "mass_g": 0.28, "purity": 0.9}], "materials": [{"name": "Demo sand", "mass_g": 1234567.125, "wt": {"SiO2": 99.5}}], "after": {"key": "demo", "name": "Demo old"}}


def odd_entries() -> list[dict]:
    """Own glasses, a find with pieces and photos, tests of things whose facts have not arrived, texts that a spreadsheet would spoil, and what is covered."""
    pull = start("pull", title=ODD_TEXTS[4], glasses=[glass("Modern float glass", "modern-float"), glass("Demo stranger", piece_id=STRANGER, piece="Demo stranger", mass_g=1.5)], consent=True)
    told = [entry("glass.added", OWN, 0, OWN_BODY), entry("glass.added", OTHER_OWN, 0, {**OWN_BODY, "name": "Demo mol (invented)", "replaces": OWN, "made": MADE, "amounts": [{"name": "SiO2", "text": "75", "unit": "mol"}, {"name": "Na2O", "text": "25", "unit": "mol"}]})]
    told += [opened(FIND, site=ODD_TEXTS[7], note="=note"), consent(FIND), added(PIECE, FIND, glass_key=f"own/{OWN}", glass_name="Demo cullet", link="own"), weighed(PIECE, 7.25, u_g=0.01), photo(PIECE)]
    told += [cut(PIECE, CHILD, 2.5, WALL_0 + 1), added(CHILD, FIND, label="Demo chip", code="KF7M5"), used(CHILD, 1.0, at_ms=WALL_0 + 2), weighed(STRANGER, 3.0)]
    told += [pull, read(pull["subject"], 1, "1", "before_1_mm", 1.0 / 3 + 5), read(pull["subject"], 2, "2", "before_1_mm", 6.0), read(pull["subject"], 3, "2", "before_1_mm", None)]
    told += whole_trial(glass_key="nobody-knows", glass_name="Demo nobody (invented)")
    told.append(entry("finding.margin", new_id(), 0, {"first": "glass:modern-float", "second": f"glass:{OWN}", "lane": "round", "percent": 10.0}))
    told.append(entry("caution.read", new_id(), 0, {"caution": "flame", "wording": "0123456789ab", "page": "/bench"}))
    return [*told, *corrected_trial(), *open_session(), *covered_tests()]


def put(store: Store, told: list[dict]) -> None:
    """Through the door of the tablets; all of it must be stored."""
    with store.write() as session:
        verdicts = push(session, Batch(entries=told), WALL_0 + 1000)
    assert {v.verdict for v in verdicts} == {"stored"}, [v for v in verdicts if v.verdict != "stored"]


def packed(store: Store, session_id: str | None = None, key: str = "CC-BY-4.0") -> bytes:
    """The package of a bench book, made at CREATED."""
    with store.read() as session:
        book, made = gather(session, session_id), io.BytesIO()
        write(made, book, entries(session, book), CREATED, licence(key))
        return made.getvalue()


def parts(data: bytes) -> dict[str, bytes]:
    """Every file of a ZIP."""
    with zipfile.ZipFile(io.BytesIO(data)) as package:
        return {name: package.read(name) for name in package.namelist()}


def table(data: bytes, name: str) -> list[dict[str, str]]:
    """A table of a package as csv reads it: every cell a text."""
    return list(csv.DictReader(io.StringIO(parts(data)[f"{name}.csv"].decode(), newline="")))


def told_in(data: bytes) -> list[dict]:
    """The entries of a package as on the wire."""
    csv.field_size_limit(2**31 - 1)
    return [{**row, "n": int(row["n"]), "at_ms": int(row["at_ms"]), "body": json.loads(row["body"])} for row in table(data, "entries")]


def zipped(files: dict[str, bytes]) -> bytes:
    """A ZIP of these files."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in files.items():
            package.writestr(name, content)
    return out.getvalue()


def with_entries(data: bytes, text: bytes, is_sealed: bool = True) -> bytes:
    """The package with another entries.csv; sealed anew in datapackage.json, or not."""
    files = {**parts(data), "entries.csv": text}
    about = json.loads(files["datapackage.json"])
    for resource in about["resources"]:
        if resource["name"] == "entries" and is_sealed:
            resource["hash"] = f"sha256:{hashlib.sha256(text).hexdigest()}"
    return zipped({**files, "datapackage.json": json.dumps(about).encode()})
