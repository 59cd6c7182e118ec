"""Render a page or a fragment, with asset addresses that change when a file changes."""

import hashlib
import re
import time
from collections.abc import Iterable
from functools import cache
from itertools import islice
from pathlib import Path

from fastapi import Request
from fastapi.responses import HTMLResponse, Response, StreamingResponse
from jinja2 import Environment, FileSystemLoader, StrictUndefined, select_autoescape

from server import __version__

SERVER = Path(__file__).parent.parent
PACKED = SERVER / "pages"
ROOT = PACKED if PACKED.is_dir() else SERVER.parent
TEMPLATES = ROOT / "templates"
STATIC = ROOT / "static"
LINES_AT_ONCE = 500  # of a table that is sent as it comes

PLACES = (("glasses", "Glasses", "/glass"), ("finds", "Finds", "/finds"), ("bench", "Bench", "/bench"), ("results", "Results", "/results"))


@cache
def version() -> str:
    """Hash over every template, static file and data file: the name of this very app."""
    found = hashlib.sha256()
    for folder in (TEMPLATES, STATIC, *sorted(SERVER.glob("*/data"))):
        for path in sorted(folder.rglob("*")):
            if path.is_file():
                found.update(str(path.relative_to(folder)).encode())
                found.update(path.read_bytes())
    return found.hexdigest()[:12]


def asset(name: str) -> str:
    """Address of a static file; it may be cached for ever."""
    return f"/static/{version()}/{name}"


def in_ten(chance: float) -> str:
    """A chance as one would say it."""
    if chance < 0.05:
        return "hardly any chance"
    return "almost sure" if chance > 0.95 else f"about {max(1, min(9, round(10 * chance)))} in 10"


def number(value: float | None, digits: int = 0) -> str:
    """A number as one would print it: true minus sign, fixed digits, an en dash for nothing."""
    if value is None:
        return "–"
    text = f"{value:.{digits}f}"
    return text.replace("-", "−") if float(text) != 0 else text.lstrip("-")


def formula(name: str) -> str:
    """A formula with its figures set low, as it is printed."""
    return name.translate(str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉"))


def formulas(text: str) -> str:
    """A sentence with the figures of its formulas set low; other numbers stay."""
    return re.sub(r"(?<=[A-Z)])[0-9]+|(?<=[A-Z][a-z])[0-9]+", lambda found: formula(found[0]), text)


@cache
def environment() -> Environment:
    """The one Jinja environment. An undefined name in a template is an error."""
    env = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=select_autoescape(),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals.update(asset=asset, places=PLACES, app_version=version(), release=__version__, now_ms=lambda: int(time.time() * 1000))
    env.filters["number"] = number
    env.filters["formula"] = formula
    env.filters["formulas"] = formulas
    return env


def page(_request: Request | None, name: str, status: int = 200, /, **context) -> HTMLResponse:
    """A whole page from templates/<name>."""
    html = environment().get_template(name).render(**context)
    return HTMLResponse(html, status_code=status, headers={"Cache-Control": "no-cache"})


def fragment(_request: Request | None, name: str, /, **context) -> HTMLResponse:
    """A piece of a page for htmx; it has an address of its own under /frag/."""
    response = page(_request, name, 200, **context)
    response.headers["Vary"] = "HX-Request"
    return response


def download(text: str, file_name: str, media_type: str = "text/csv") -> Response:
    """Text as a file to save, made anew each time."""
    headers = {"Content-Disposition": f'attachment; filename="{file_name}"', "Cache-Control": "no-cache"}
    return Response(text, media_type=f"{media_type}; charset=utf-8" if media_type.startswith("text/") else media_type, headers=headers)


def download_lines(lines: Iterable[str], file_name: str) -> StreamingResponse:
    """Lines of a table as a file to save, sent as they come."""
    left = iter(lines)
    headers = {"Content-Disposition": f'attachment; filename="{file_name}"', "Cache-Control": "no-cache"}
    return StreamingResponse(iter(lambda: "".join(islice(left, LINES_AT_ONCE)), ""), media_type="text/csv; charset=utf-8", headers=headers)
