"""The data package before a general validator: frictionless (https://framework.frictionlessdata.io), which checks names, types, formats, keys, references between tables, sizes and SHA-256."""

import json
import zipfile
from decimal import Decimal
from pathlib import Path

import pytest
from frictionless import Package, Report, system, validate

from demo.workshop import fill
from tests.packages import OWN, OWN_BODY, SESSION, odd_entries, packed, put


def unpacked(data: bytes, folder: Path) -> Path:
    """The package as files; the address of its datapackage.json."""
    (folder / "package.zip").write_bytes(data)
    with zipfile.ZipFile(folder / "package.zip") as package:
        package.extractall(folder)
    return folder / "datapackage.json"


def judged(path: Path) -> Report:
    """The report of the validator, held to version 1 of the standard."""
    with system.use_context(standards="v1"):
        return validate(str(path))


def faults(report: Report) -> list[tuple]:
    return [(task.name, error.type, error.note) for task in report.tasks for error in task.errors] + [(error.type, error.note) for error in report.errors]


@pytest.mark.parametrize("session_id", [None, SESSION])
def test_a_bench_book_with_odd_texts_and_strangers_is_valid(store, tmp_path, session_id):
    put(store, odd_entries())
    report = judged(unpacked(packed(store, session_id), tmp_path))
    assert (report.valid, faults(report), len(report.tasks)) == (True, [], 11)


def test_the_demo_and_an_empty_book_are_valid(store, tmp_path):
    (tmp_path / "empty").mkdir()
    assert faults(judged(unpacked(packed(store, key="later"), tmp_path / "empty"))) == []
    fill(store)
    assert faults(judged(unpacked(packed(store), tmp_path))) == []


@pytest.mark.parametrize(("name", "old", "new", "fault"), [
    ("trials", b"Demo cullet", b"Demo cullex", "hash-count"), ("trials", b"2.0,500.0", b"two,500.0", "type-error"), ("trials", OWN.encode(), b"no-such-key", "foreign-key"), ("entries", b"id,kind", b"id,kinds", "incorrect-label"),
])
def test_the_validator_sees_what_is_wrong(store, tmp_path, name, old, new, fault):
    """So that its silence above says something."""
    put(store, odd_entries())
    path = unpacked(packed(store), tmp_path)
    table = path.with_name(f"{name}.csv")
    assert old in table.read_bytes()
    table.write_bytes(table.read_bytes().replace(old, new, 1))
    if fault != "hash-count":
        about = json.loads(path.read_text())
        for resource in about["resources"]:
            del resource["bytes"], resource["hash"]
        path.write_text(json.dumps(about))
    assert fault in {found[1] for found in faults(judged(path))}


def test_a_general_reader_finds_what_was_typed(store, tmp_path):
    """Types, nulls, line breaks, and texts that a spreadsheet would run or change, read by frictionless against the entries that were sent."""
    told = odd_entries()
    put(store, told)
    package = Package(str(unpacked(packed(store), tmp_path)))
    glasses = {row["glass_key"]: row for row in package.get_resource("glasses").read_rows()}
    assert (glasses[OWN]["name"], glasses[OWN]["note"], glasses[OWN]["sio2_wt_pct"], glasses[OWN]["cao_wt_pct"]) == (OWN_BODY["name"], OWN_BODY["note"], Decimal("69.5"), None)
    trial = next(row for row in package.get_resource("trials").read_rows() if row["torch"] == "=1+1")
    notes = [e["body"]["text"] for e in told if e["kind"] == "trial.noted"]
    assert (trial["operator"], trial["notes"], trial["sag_s"], trial["started_utc"].isoformat()) == ("-2", " / ".join(notes), Decimal("14.0"), "2026-09-21T14:13:20+00:00")
    sent = {e["id"]: e for e in told}
    for row in package.get_resource("entries").read_rows():
        assert dict(row) == sent[row["id"]]
