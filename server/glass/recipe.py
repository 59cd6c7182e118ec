"""Pure: what a glass was made of (own.MadeOf) -> its parts and one sentence."""

from dataclasses import dataclass

from server.physics.addition import compounds


@dataclass(frozen=True)
class Part:
    """So many grams of something: its name, the key of the glass where it is one, and what is told of it beside."""

    mass_g: float
    name: str
    key: str = ""
    beside: str = ""


def compound_name(key: str) -> str:
    """What a compound is called; its key where a later version knew more of them."""
    return compounds()[key]["name"] if key in compounds() else key


def parts(made: dict) -> list[Part]:
    """Glasses, compounds and raw materials, in the order in which they stand."""
    return [
        *(Part(one["mass_g"], one["name"], one["key"]) for one in made["glasses"]),
        *(Part(one["mass_g"], compound_name(one["compound"]), beside=f" of {100 * one['purity']:.1f} %" if one["purity"] < 1 else "") for one in made["compounds"]),
        *(Part(one["mass_g"], one["name"]) for one in made.get("materials", [])),
    ]


def grams(mass_g: float) -> str:
    """A mass as it was recorded, without zeros at its end."""
    return f"{mass_g:.10g}"


def sentence(made: dict) -> str:
    """All of it in one line, for a table."""
    copied = f", after {made['after']['name']}" if made.get("after") else ""
    return "; ".join(f"{grams(one.mass_g)} g {one.name}{one.beside}" for one in parts(made)) + copied


def origins(made: dict | None) -> dict:
    """Keys of the glasses that went into it (`of`), and of the one that it copies (`copies`); nothing for a glass that was not made."""
    if not made:
        return {}
    return {"of": [one["key"] for one in made["glasses"]], "copies": made["after"]["key"] if made.get("after") else ""}
