"""How good the estimates are: the counts on measured glasses as rows, for the command line and the page, and the picture."""

from server.physics.accuracy import STATES
from server.physics.table import models, table

PROPERTIES = {
    "4": ("working point", "K"),
    "7.6": ("softening point", "K"),
    "13": ("annealing point", "K"),
    "range": ("working range, its width", "K"),
    "alpha": ("expansion, 20–300 °C", "1e-7/K"),
}
SIDE_WORDS = {"inside": "inside its bounds", "outside": "outside its bounds", "source": "whole sources kept"}
STATE_WORDS = {"answered": "answered", "extrapolated": "carried further"}
COLUMNS = ("property", "unit", "who", "family", "side", "n", "bias", "median_abs", "p90", "u", "u95", "held68", "held95")
SIZE, EDGE = 320, 44  # of a picture, in its own units


def family_labels() -> dict[str, str]:
    """Family key -> words, 'any' last."""
    return {f["key"]: f["label"] for f in table("families")["families"]} | {"any": "all families"}


def rows() -> list[dict]:
    """Every count: who (a model, or all of them together), property, family, side. held68 and held95 are shares, only of the combination."""
    labels, counted = family_labels(), table("accuracy")
    found = []
    for prop, (words, unit) in PROPERTIES.items():
        for family, label in labels.items():
            about = {"property": words, "unit": unit, "family": label}
            for model in models():
                for side, side_words in SIDE_WORDS.items():
                    cell = counted["models"][model["key"]][family].get(side, {}).get(prop)
                    found += [{**about, "who": model["name"], "side": side_words, **cell}] if cell else []
            for state in STATES:
                cell = counted["combined"][family][state].get(prop)
                found += [{**about, "who": "all together", "side": STATE_WORDS[state], **cell}] if cell else []
    return found


def as_text() -> str:
    """The whole table for a terminal, with the floor and the citation."""
    head = f"{'property':25}{'who':28}{'family':30}{'side':21}{'n':>5}{'bias':>7}{'median':>8}{'90 %':>7}{'68 %':>7}{'95 %':>7}  held"
    lines = [head, "-" * len(head)]
    for row in rows():
        held = f"  {100 * row['held68']:.0f}/{100 * row['held95']:.0f} %" if "held68" in row else ""
        numbers = f"{row['n']:5d}{row['bias']:7.1f}{row['median_abs']:8.1f}{row['p90']:7.1f}{row['u']:7.1f}{row['u95']:7.1f}"
        lines.append(f"{row['property']:25}{row['who']:28}{row['family']:30}{row['side']:21}{numbers}{held}")
    return "\n".join([*lines, "", *(f"{words}." for words in notes())])


def notes() -> list[str]:
    """What a reader must know of the table."""
    counted = table("accuracy")
    floors = "; ".join(
        f"{PROPERTIES[prop][0]} {cell['median_abs']:g} {PROPERTIES[prop][1]} ({cell['pairs']} pairs)" for prop, cell in counted["floor"].items()
    )
    return [
        "Error is model minus measured, in K or 1e-7/K. Learnt models, and all together, are counted on glasses whose composition cluster was kept from them; beyond their bounds on whole regions of composition kept, and once more with whole sources kept",
        "held: share of the errors inside the stated 68 and 95 % intervals, their width taken from the other half of the clusters",
        f"No model can beat the repeat of a measurement: median {floors}",
        counted["citation"].rstrip("."),
        "In a checkout `python -m tests.learn` and `python -m tests.accuracy` make all of it anew from the measurements",
    ]


def summary() -> list[dict]:
    """The combination alone, where models answer inside their bounds, of each property and family with its measured glasses."""
    counted, labels = table("accuracy")["combined"], family_labels()
    tables = []
    for prop, (words, unit) in PROPERTIES.items():
        cells = [{"family": labels[f], **counted[f]["answered"][prop]} for f in labels if prop in counted[f]["answered"]]
        tables.append({"key": prop, "words": words, "unit": "K" if unit == "K" else "10⁻⁷/K", "rows": cells, "floor": table("accuracy")["floor"].get(prop)})
    return tables


def pictures() -> list[dict]:
    """Measured against estimated as dots in one path each: {words, unit, path, ticks, count}."""
    found = []
    for prop, points in table("accuracy_points")["points"].items():
        words, unit = PROPERTIES[prop]
        low, high, step = (40, 200, 40) if prop == "alpha" else _limits(points)
        scale = (SIZE - EDGE - 8) / (high - low)

        def place(estimated: float, measured: float, low=low, scale=scale) -> tuple[int, int]:
            return round(EDGE + (estimated - low) * scale), round(SIZE - EDGE - (measured - low) * scale)

        inside = sorted({place(*p) for p in points if low <= min(p) and max(p) <= high})
        ticks = [(value, *place(value, value)) for value in range(low, high + 1, step)]
        path = "".join(f"M{x} {y}h0" for x, y in inside)
        found.append({"words": words, "unit": "°C" if unit == "K" else "10⁻⁷/K", "path": path, "ticks": ticks, "count": len(points)})
    return found


def _limits(points: list[list[int]]) -> tuple[int, int, int]:
    """Limits and tick step in °C that hold all points."""
    values = [x for point in points for x in point]
    return min(values) // 100 * 100, -(-max(values) // 100) * 100, 200
