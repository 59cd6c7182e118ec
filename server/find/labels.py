"""Labels of the pieces of a find, each with a QR code of the piece's address."""

from dataclasses import dataclass

import segno
from markupsafe import Markup

from server.errors import Missing
from server.find.ledger import Find, Finds


@dataclass(frozen=True)
class Label:
    """What stands on one label; `picture` is an SVG of the QR code."""

    name: str
    code: str
    address: str
    picture: Markup


def qr_svg(address: str, title: str) -> Markup:
    """An inline SVG without inline style; medium error correction, for a label that gets scratched."""
    made = segno.make_qr(address, error="m", boost_error=False)
    return Markup(made.svg_inline(omitsize=True, svgclass="qr", lineclass=None, title=title, border=4))


def labels(found: Finds, find_id: str, base: str) -> tuple[Find, list[Label]]:
    """The find and the labels of its pieces; `base` is the address of Isokom as the tablets see it, without a slash at its end. Raises Missing."""
    find = next((one for one in found.finds if one.id == find_id), None)
    if find is None:
        raise Missing("This find has not arrived at the desk. It may still be on its tablet; labels are drawn once it has been sent.", code="no_such_find")
    own = [piece for piece in found.pieces if piece.facts["find"] == find_id]
    made = []
    for piece in own:
        address = f"{base}/finds/piece?p={piece.id}"
        title = f"Code that leads to {piece.facts['label']}"
        made.append(Label(piece.facts["label"], piece.facts["code"], address, qr_svg(address, title)))
    return find, made
