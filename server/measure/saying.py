"""Pure: what the four results have in common: readings looked up, numbers and glasses as one would say them, a glass's curve."""

from dataclasses import dataclass
from math import exp

from server.measure.shape import Lane
from server.web.page import number

ROUGH = 0.25  # from this half-width in ln a ratio is said as a range, not as give or take
LONGEST_NAME = 40


@dataclass(frozen=True)
class Asked:
    """One test as it came: glasses in the order of their letters, setup, readings by (place, quantity), reports by letter."""

    glasses: list[dict]
    setup: dict
    readings: dict[tuple[str, str], float | str]
    estimates: dict[str, dict]

    def value(self, place: str, quantity: str) -> float | None:
        """A number that was read; None where there is none."""
        found = self.readings.get((place, quantity))
        return float(found) if isinstance(found, int | float) else None

    def word(self, place: str, quantity: str) -> str:
        """A word that was chosen; empty where there is none."""
        found = self.readings.get((place, quantity))
        return found if isinstance(found, str) else ""

    def mean(self, place: str, *quantities: str) -> tuple[float, int] | None:
        """(mean, how many) of the readings of one length in several directions; None without any."""
        found = [x for q in quantities if (x := self.value(place, q)) is not None]
        return (sum(found) / len(found), len(found)) if found else None

    def places(self) -> list[str]:
        """Every place with a reading, in order."""
        return sorted({place for (place, quantity) in self.readings if self.readings[place, quantity] not in ("", None)}, key=lambda p: (len(p), p))

    def set_number(self, key: str, usual: float | None = None) -> float | None:
        """A number of the setup."""
        found = self.setup.get(key)
        return float(found) if isinstance(found, int | float) else usual

    def called(self, letter: str) -> str:
        """A glass as it is spoken of: its piece or name where that is short and nobody else's, with its letter; else 'glass A'."""
        names = [glass.get("piece") or glass["name"] for glass in self.glasses]
        i = ord(letter) - ord("A")
        if i >= len(names) or len(names[i]) > LONGEST_NAME or names.count(names[i]) > 1 or not names[i].strip():
            return f"glass {letter}"
        return f"{names[i]} ({letter})"

    def curve(self, letter: str) -> tuple[dict, float] | None:
        """(viscosity curve {a, b, t0_c}, how far it may be off in K at the softening point) of a glass's report; None without one."""
        report = self.estimates.get(letter)
        if not report or not report.get("vft"):
            return None
        return report["vft"], report["points"]["softening"]["u_k"]


def first_up(text: str) -> str:
    """The sentence with a capital at its head."""
    return text[:1].upper() + text[1:]


def listed(words: list[str], joiner: str = "and") -> str:
    """'a', 'a and b', 'a, b and c'."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {joiner} {words[-1]}"


def plural(count: int, word: str) -> str:
    """'1 thread', '3 threads'."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def times(ratio: float) -> str:
    """A ratio to two figures: 0.45, 2.2, 13."""
    return number(ratio, 0 if ratio >= 10 else 1 if ratio >= 0.95 else 2)


def so_many_times(ln_ratio: float, half_width: float) -> str:
    """'2.2 times', or '1.5 to 3.2 times' where the half-width in ln is wide."""
    if half_width > ROUGH:
        return f"{times(exp(ln_ratio - half_width))} to {times(exp(ln_ratio + half_width))} times"
    return f"{times(exp(ln_ratio))} times"


def doubt(ln_ratio: float, half_width: float) -> str:
    """', give or take 0.2' where the ratio was said as one number; empty where it was said as a range."""
    size = exp(ln_ratio) * half_width
    return "" if half_width > ROUGH else f", give or take {number(size, 2 if size < 0.1 else 1 if size < 3 else 0)}"


def range_words(ln_ratio: float, half_width: float) -> str:
    """'1.8 to 2.7'."""
    return f"{times(exp(ln_ratio - half_width))} to {times(exp(ln_ratio + half_width))}"


def ratio_lane(label: str, ln_ratio: float, u: float, u95: float) -> Lane:
    """The lane of a ratio, its ends even in ln."""
    return Lane(label, exp(ln_ratio), *(exp(ln_ratio + w) for w in (-u, u, -u95, u95)))


def lane(label: str, found: dict) -> Lane:
    """The lane of {value, u, u95}."""
    value, u, u95 = found["value"], found["u"], found["u95"]
    return Lane(label, value, value - u, value + u, value - u95, value + u95)


def harder(kelvin: float) -> str:
    """'26 K harder', '12 K softer' or 'as hard'."""
    if abs(kelvin) < 0.5:
        return "as hard"
    return f"{number(abs(kelvin))} K {'harder' if kelvin >= 0 else 'softer'}"


def plus_minus(value: float, half_width: float, digits: int = 0) -> str:
    """'3.1 ± 0.5'."""
    return f"{number(value, digits)} ± {number(half_width, digits)}"
