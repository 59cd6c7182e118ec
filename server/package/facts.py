"""Pure: glasses, finds and pieces -> rows of the package's tables, {column: value}. A row stands for whatever a test names, also where its facts have not arrived. Masses in g."""

from collections.abc import Iterator

import numpy as np

from server.find.ledger import Find, Piece
from server.glass import catalog, own, recipe
from server.package.gather import Book, key_of, named_glasses, named_pieces
from server.package.tables import columns, oxide_column
from server.physics.composition import INDEX, OXIDE_OF_ELEMENT, OXIDES, wt_pct_of

UNITS = {"wt": "wt%", "mol": "mol%", "ppm": "ppm"}
SUMS = ("start_g", "left_g", "over_g")


def _nothing(table: str) -> dict:
    """A row in which nothing is said."""
    return dict.fromkeys(columns(table))


def _oxides(wt: np.ndarray, reported: set[str]) -> dict:
    """Columns of the oxides that were reported, wt%."""
    return {oxide_column(name): float(wt[INDEX[name]]) if name in reported else None for name in OXIDES}


def _figure(typed: dict) -> str:
    """One figure as typed, with its own sd where that was given."""
    spread = f" ± {typed['sd']!r}" if typed.get("sd") is not None else ""
    return f"{typed['name']} {typed['text'].strip()}{spread} {UNITS[typed['unit']]}"


def _own_glass(entry: dict) -> dict:
    body = entry["body"]
    typed = [one for one in body["amounts"] if one["text"].strip()]
    reported = {OXIDE_OF_ELEMENT[one["name"]] if one["unit"] == "ppm" else one["name"] for one in typed}
    return {
        **_nothing("glasses"),
        **{name: body[name] for name in ("name", "family", "period", "region", "source", "surface", "note")},
        **{"glass_key": entry["subject"], "kind": "own analysis", "is_known_here": True, "how_known": "entered here"},
        **{"method": body.get("method", "not stated"), "n": None if body.get("n") is None else str(body["n"]), "replaces": body["replaces"] or None},
        "made_of": recipe.sentence(body["made"]) if body.get("made") else None,
        "figures": "; ".join(_figure(one) for one in typed),
        **_oxides(wt_pct_of(own.amounts_of(body["amounts"])), reported),
    }


def _published(glass: catalog.Glass) -> dict:
    return {
        **_nothing("glasses"),
        **{name: getattr(glass, name) for name in ("name", "kind", "family", "period", "region", "source", "method", "surface", "note")},
        **{"glass_key": glass.key, "is_known_here": True, "how_known": glass.status, "n": glass.count},
        "figures": "; ".join(f"{name} {figure} wt%" for name, figure in glass.published.items()),
        **_oxides(glass.wt, set(glass.published)),
    }


def used_of_catalogue(book: Book) -> list[catalog.Glass]:
    """Published analyses that a test, plan or piece names, by key."""
    known = catalog.glasses()
    return [known[key] for key in sorted(named_glasses(book)) if key in known]


def glasses(book: Book) -> Iterator[dict]:
    """Own glasses, the published ones that were used, and names whose analysis is not here."""
    mine, used, named = {entry["subject"] for entry in book.own}, used_of_catalogue(book), named_glasses(book)
    yield from (_own_glass(entry) for entry in book.own)
    yield from (_published(glass) for glass in used)
    for key in sorted(named.keys() - mine - {glass.key for glass in used}):
        yield {**_nothing("glasses"), "glass_key": key, "name": named[key], "is_known_here": False}


def _find(find: Find) -> dict:
    said = find.consent or {}
    return {
        **{name: find.facts[name] for name in ("number", "site", "context", "keeper", "note")},
        **{name: find.facts[name] or None for name in ("loan_from", "due")},
        **{"find_id": find.id, "is_known_here": True, "consent": said.get("state"), "consent_by": said.get("by"), "consent_on": said.get("on") or None},
        **{"consent_tests": " ".join(said.get("tests", ())), "consent_note": said.get("note"), "limit_g": said.get("limit_g"), "limit_piece_g": said.get("limit_piece_g")},
        **{name: getattr(find, name) for name in (*SUMS, "gone_g")},
    }


def finds(book: Book) -> Iterator[dict]:
    """One row a find."""
    yield from (_find(find) for find in book.finds.finds)
    for key in sorted({piece.facts["find"] for piece in book.finds.pieces} - {find.id for find in book.finds.finds}):
        yield {**_nothing("finds"), "find_id": key, "is_known_here": False}


def _piece(piece: Piece) -> dict:
    facts = piece.facts
    return {
        **{name: facts[name] for name in ("label", "code", "colour", "opacity", "condition", "glass_name", "link", "note")},
        **{"piece_id": piece.id, "find_id": facts["find"], "is_known_here": True, "glass_key": key_of(facts["glass_key"])},
        **{"cut_from": piece.root if piece.root != piece.id else None, "photos": len(piece.photos)},
        **{name: getattr(piece, name) for name in (*SUMS, "u_g", "cut_g", "used_g", "lost_g", "returned_g", "unaccounted_g")},
    }


def pieces(book: Book) -> Iterator[dict]:
    """One row a piece."""
    yield from (_piece(piece) for piece in book.finds.pieces)
    for key in sorted(named_pieces(book) - {piece.id for piece in book.finds.pieces}):
        yield {**_nothing("pieces"), "piece_id": key, "is_known_here": False}
