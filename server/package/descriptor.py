"""Pure: what is in a package -> its datapackage.json (Frictionless Data Package, profile tabular-data-package, version 1) and its README in plain words.

source: https://specs.frictionlessdata.io/tabular-data-package/
"""

from server.package.facts import used_of_catalogue
from server.package.gather import Book, LeftOut
from server.package.tables import TYPES, tables

DIALECT = {"csvddfVersion": 1.2, "delimiter": ",", "lineTerminator": "\r\n", "quoteChar": '"', "doubleQuote": True, "header": True, "skipInitialSpace": False, "caseSensitiveHeader": True}
EXACT = "Texts stand exactly as they were typed: one that begins with = + - or @ is text, so open the tables as data, not by a double click in a spreadsheet."
README = """{title}
made {created} by Isokom {release}

datapackage.json describes every table: each column with its type and unit. It follows the open standard Frictionless Data Package
(https://specs.frictionlessdata.io), so general programs can check and read it.

{tables}

{left_out}

{exact} Numbers have a decimal point, times are UTC, an empty cell is nothing said.

Licence of the data: {licence}.
Before you publish it: the tables and entries name operators and keepers, and the photos are inside.

Isokom takes the package in again: Results, Data package, Bring one in. What is here already stays as it is.

Analyses used:
{sources}
"""


def left_out_words(left_out: LeftOut) -> str:
    """What stays under cover, as one sentence."""
    if not left_out.sessions and not left_out.tests:
        return "Nothing was left out."
    sessions, tests = (f"{n} {word}{'s' if n != 1 else ''}" for n, word in ((left_out.sessions, "blind session"), (left_out.tests, "test")))
    return f"Left out, since what lay in the dishes is still covered: {sessions} with plan and runs, {tests}, in all {left_out.entries} entries. They come along once their session is closed or uncovered."


def field(about: dict) -> dict:
    """A column as Table Schema has it; the unit stands in the words and by itself."""
    unit = {"unit": about["unit"]} if "unit" in about else {}
    words = f"{about['about']}, in {about['unit']}" if unit else about["about"]
    return {"name": about["name"], **TYPES.get(about["type"], {"type": about["type"]}), "description": f"{words[0].upper()}{words[1:]}", **unit}


def schema(name: str) -> dict:
    """The Table Schema of a table."""
    table = tables()[name]
    refers = [{"fields": column, "reference": {"resource": "" if there == name else there, "fields": other}} for column, (there, other) in table["refers"].items()]
    return {
        "fields": [{**field(about), **({"constraints": {"required": True}} if about["name"] in table["key"] else {})} for about in table["fields"]],
        "missingValues": [""],
        "primaryKey": table["key"],
        **({"foreignKeys": refers} if refers else {}),
    }


def resource(name: str, size_bytes: int, sha256: str) -> dict:
    """A table as a tabular-data-resource."""
    table = tables()[name]
    about = {"name": name, "path": f"{name}.csv", "title": table["title"], "description": table["about"], "profile": "tabular-data-resource"}
    return {**about, "format": "csv", "mediatype": "text/csv", "encoding": "utf-8", "bytes": size_bytes, "hash": f"sha256:{sha256}", "dialect": DIALECT, "schema": schema(name)}


def sources(book: Book) -> list[str]:
    """Citations of the published analyses used and the sources of own ones, each once."""
    return sorted({glass.source for glass in used_of_catalogue(book) if glass.source} | {entry["body"]["source"].strip() for entry in book.own} - {""})


def title(book: Book) -> str:
    """What a person calls the package."""
    if book.session_id is None:
        return "Isokom bench book"
    plan = next(iter(book.sessions)).plan
    return f"Isokom session: {plan['title'] or plan['test']}"


def descriptor(book: Book, resources: list[dict], created: str, licence: dict) -> dict:
    """datapackage.json. created: RFC 3339, given by the caller."""
    cited = [{"title": source} for source in sources(book)]
    return {
        "profile": "tabular-data-package",
        "name": "isokom-bench-book" if book.session_id is None else f"isokom-session-{book.session_id}",
        "title": title(book),
        "description": f"How ancient glass and modern stand-ins work: torch trials, measured tests, finds on loan, and every entry as it was made. {left_out_words(book.left_out)} {EXACT}",
        "created": created,
        "keywords": ["archaeology", "glass", "softening", "viscosity"],
        "licenses": [licence],
        **({"sources": cited} if cited else {}),
        "leftOut": {**vars(book.left_out), "description": left_out_words(book.left_out)},
        "resources": resources,
    }


def readme(book: Book, counts: dict[str, int], created: str, licence: dict, release: str) -> str:
    """README.txt. counts: rows of each table."""
    told = [f"{name}.csv ({counts[name]} row{'' if counts[name] == 1 else 's'}): {about['about']}" for name, about in tables().items()]
    words = {"title": title(book), "created": created, "release": release, "tables": "\n\n".join(told), "left_out": left_out_words(book.left_out), "exact": EXACT}
    return README.format(**words, licence=licence["title"], sources="\n".join(f"- {source}" for source in sources(book)) or "none")
