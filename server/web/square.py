"""Square codes as inline SVG: dark on light whatever the theme, with their quiet zone (ISO/IEC 18004)."""

import io

import segno
from markupsafe import Markup


def square_code(text: str) -> Markup:
    """The code of an address or word, as wide as its place."""
    out = io.BytesIO()
    segno.make(text, error="m").save(out, kind="svg", xmldecl=False, omitsize=True, border=4, dark="#000", light="#fff", svgclass="square-code", lineclass=None)
    return Markup(out.getvalue().decode())
