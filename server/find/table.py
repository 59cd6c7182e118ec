"""The ledger as plain CSV, one row for each act on a piece, those taken back included."""

import csv
import io
from collections.abc import Iterator
from datetime import UTC, datetime

from server.find.ledger import Find, Finds, Piece, Row

COLUMNS = (
    "find_id,site,find_number,piece_id,code,label,made_utc,act,mass_g,u_g,change_g,left_g,unaccounted_g,beyond_what_was_left_g,"
    "test,trial_id,other_piece_id,words,taken_back,why_taken_back,entry_id"
).split(",")


def utc(at_ms: int) -> str:
    """A moment as 2026-11-25T14:05:09Z."""
    return datetime.fromtimestamp(at_ms / 1000, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def _cells(find: Find | None, piece: Piece, row: Row) -> tuple:
    site, number = (find.facts["site"], find.facts["number"]) if find else ("", "")
    about = (piece.facts["find"], site, number, piece.id, piece.facts["code"], piece.facts["label"])
    masses = (row.mass_g, row.u_g, row.change_g, row.left_g, row.unaccounted_g, row.over_g)
    numbers = ["" if mass_g is None else f"{mass_g:.6f}".rstrip("0").rstrip(".") for mass_g in masses]
    marks = (row.test or "", row.trial or "", row.other or "", row.words, "yes" if row.struck else "", row.why, row.entry)
    return (*about, utc(row.at_ms), row.act, *numbers, *marks)


def _rows(found: Finds) -> Iterator[tuple]:
    named = {find.id: find for find in found.finds}
    for piece in found.pieces:
        for row in piece.rows:
            yield _cells(named.get(piece.facts["find"]), piece, row)


def as_csv(found: Finds) -> str:
    """Comma-separated, with a header; piece by piece in the order of adding, each in the order of its acts. Masses in g."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    writer.writerows(_rows(found))
    return out.getvalue()
