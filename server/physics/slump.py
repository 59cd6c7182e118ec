"""Fuse test: a chip that slumps on its shelf, its drop in height turned into a dose of fluidity, ∫ dt/η in 1/Pa.

The chip is a cylinder of volume V, height z and radius r, on a shelf that it meets at the angle θ:
    energy      W = ρgVz/2 + γ [πr²(1 − cos θ) + 2πrz]
    dissipation η ż² K,  K = 3V/z² + (3π/8) r⁴/z³   (stretching; shear against a shelf it clings to, gone where the base slips)
    dose        G(z0 → z1) = ∫ from z1 to z0 of K dz / (dW/dz)
Chips of one firing share ∫ dt, so η_a / η_b = G_b / G_a. SI units; everything broadcasts. Constants: data/slump.json.
"""

from dataclasses import dataclass, replace

import numpy as np

from server.physics.curve import log_eta_vft
from server.physics.few import half_widths, leaning_variance
from server.physics.table import table

NODES, WEIGHTS = np.polynomial.legendre.leggauss(32)


@dataclass(frozen=True)
class Shelf:
    """What a chip is and lies on: volume m³, density kg/m³, surface tension N/m, contact angle in degrees, slip 0 (clings) to 1 (slides)."""

    volume: np.ndarray
    density: np.ndarray = 2500.0
    tension: np.ndarray = 0.30
    angle_deg: np.ndarray = 120.0
    slip: np.ndarray = 0.0


def force(s: Shelf, z):
    """dW/dz in N at height z in m: what drives the chip down where positive."""
    pull = -s.volume * (1.0 - np.cos(np.radians(s.angle_deg))) / z**2 + np.sqrt(np.pi * s.volume / z)
    return s.density * table("slump")["gravity_m_s2"] * s.volume / 2.0 + s.tension * pull


def resistance(s: Shelf, z):
    """K in m: dissipation ÷ (η ż²)."""
    shear = 3.0 * np.pi / 8.0 * (s.volume / (np.pi * z)) ** 2 / z**3
    return 3.0 * s.volume / z**2 + (1.0 - np.asarray(s.slip)) * shear


def rest_height(s: Shelf):
    """Height in m at which the chip comes to rest (dW/dz = 0), by halving; good to 1e-12 of it."""
    shape = np.broadcast(s.volume, s.density, s.tension, s.angle_deg).shape
    low, high = np.full(shape, 1e-6), np.full(shape, 1.0)
    for _ in range(50):
        middle = np.sqrt(low * high)
        falls = force(s, middle) > 0
        low, high = np.where(falls, low, middle), np.where(falls, middle, high)
    return np.sqrt(low * high)


def least_height(s: Shelf, glass_u: tuple, volume_u_share, sd):
    """Height in m below which no such chip can be read: where it rests at the flattest angle of the range, less four standard deviations.

    glass_u: one standard deviation of density in kg/m³ and of tension in N/m; sd of a height in m.
    """
    rule = table("slump")
    flat = replace(s, angle_deg=np.minimum(s.angle_deg, rule["contact_angle_deg"]["low"]))
    rest = rest_height(flat)
    ends = (replace(flat, volume=s.volume * (1.0 + np.asarray(volume_u_share))), replace(flat, density=s.density + glass_u[0]), replace(flat, tension=s.tension + glass_u[1]))
    doubt = sum((rest_height(end) - rest) ** 2 for end in ends)
    return rest - rule["misread"]["sd"] * np.sqrt(doubt + np.asarray(sd) ** 2)


def fraction(s: Shelf, before, after):
    """Share of the possible drop that has happened; heights in m. NaN where the chip began no higher than it rests."""
    rest = rest_height(s)
    room = np.where(np.asarray(before) > rest, before - rest, np.nan)
    return (before - after) / room


def dose(s: Shelf, before, after):
    """G in 1/Pa from height `before` to height `after` in m; negative where it rose, NaN at or below the height of rest.

    Summed over ln(z − rest), where the integrand has no pole.
    """
    rest = rest_height(s)
    up, down = np.asarray(before) - rest, np.asarray(after) - rest
    sound = (up > 0) & (down > 0)
    top, bottom = np.log(np.where(sound, up, 1.0)), np.log(np.where(sound, down, 1.0))
    at = np.exp((top + bottom)[..., None] / 2.0 + (top - bottom)[..., None] / 2.0 * NODES)
    wide = Shelf(*(np.asarray(x, dtype=float)[..., None] for x in (s.volume, s.density, s.tension, s.angle_deg, s.slip)))
    z = rest[..., None] + at
    total = (WEIGHTS * resistance(wide, z) * at / force(wide, z)).sum(axis=-1) * (top - bottom) / 2.0
    return np.where(sound, total, np.nan)


def dose_to(s: Shelf, before, share):
    """G in 1/Pa until `share` (0 to 1, below 1) of the possible drop has happened."""
    return dose(s, before, before - share * (before - rest_height(s)))


def share_after(s: Shelf, before, given: np.ndarray) -> np.ndarray:
    """Share of the possible drop (n,) of one chip that began at `before` in m, after each of n doses in 1/Pa; to 0.99 at most."""
    shares = np.geomspace(1e-4, 0.99, 400)
    return np.interp(np.log(given), np.log(dose_to(s, before, shares)), shares)


@dataclass(frozen=True)
class Chips:
    """Chips of one firing, arrays (n,): glass letters, volume in m³ with its share of error, heights in m; sd of a height in m, θ in degrees;
    density in kg/m³ and tension in N/m of each with one standard deviation, None: the usual."""

    letters: tuple[str, ...]
    volume: np.ndarray
    volume_u_share: np.ndarray
    before: np.ndarray
    after: np.ndarray
    sd: float
    angle_deg: float
    density: np.ndarray | None = None
    density_u: np.ndarray | None = None
    tension: np.ndarray | None = None
    tension_u: np.ndarray | None = None

    def of(self, letter: str) -> np.ndarray:
        """Mask (n,) of the chips of one glass."""
        return np.array([each == letter for each in self.letters])

    def shelf(self) -> Shelf:
        return Shelf(self.volume, self.part("density")[0], self.part("tension")[0], self.angle_deg)

    def part(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """(density or tension of each chip, its standard deviation)."""
        usual = table("slump")[{"density": "density_kg_m3", "tension": "surface_tension_n_m"}[name]]
        value, u = getattr(self, name), getattr(self, f"{name}_u")
        whole = np.ones(len(self.letters))
        return whole * usual["value"] if value is None else value, whole * usual["u"] if u is None else u


@dataclass(frozen=True)
class Doses:
    """ln of each chip's dose (n,), its variance from reading and weighing (n,), that from the glass's own tension and density (n,),
    and ln of the doses under the shelves that might be (shelves, n). NaN where there is no dose."""

    letters: tuple[str, ...]
    ln: np.ndarray
    reading: np.ndarray
    glass: np.ndarray
    shelves: np.ndarray


def _ln_dose(chips: Chips, change: dict) -> np.ndarray:
    """ln of the dose (n,) with named parts of the chips changed."""
    usual = chips.shelf()
    parts = {name: change.get(name, getattr(usual, name)) for name in ("volume", "density", "tension", "angle_deg", "slip")}
    made = dose(Shelf(**parts), change.get("before", chips.before), change.get("after", chips.after))
    return np.log(np.where(made > 0, made, np.nan))


def _variance(chips: Chips, name: str, middle, step) -> np.ndarray:
    """Variance of ln dose (n,) from one standard deviation of one part: half the difference, or the one side that has a dose, or 1 where none has."""
    nominal = _ln_dose(chips, {})
    up, down = (_ln_dose(chips, {name: middle + sign * step}) for sign in (1, -1))
    half = np.abs(up - down) / 2.0
    one_side = np.where(np.isfinite(up), np.abs(up - nominal), np.abs(down - nominal))
    known = np.where(np.isfinite(half), half, one_side)
    return np.where(np.isfinite(known), known, 1.0) ** 2


def doses(chips: Chips) -> Doses:
    """The dose of every chip with what is unsure about it."""
    rule = table("slump")
    angle = rule["contact_angle_deg"]
    angles = sorted({min(angle["low"], chips.angle_deg), chips.angle_deg, max(angle["high"], chips.angle_deg)})
    reading = sum(_variance(chips, name, value, step) for name, value, step in (
        ("before", chips.before, chips.sd), ("after", chips.after, chips.sd), ("volume", chips.volume, chips.volume * chips.volume_u_share),
    ))
    glass = sum(_variance(chips, name, *chips.part(name)) for name in ("tension", "density"))
    shelves = np.array([_ln_dose(chips, {"angle_deg": theta, "slip": slip}) for theta in angles for slip in (0.0, 1.0)])
    return Doses(chips.letters, _ln_dose(chips, {}), reading, glass, shelves)


def _heat(made: Doses, slope_per_k: float) -> tuple[float, float]:
    """(variance of ln dose between places of the shelf, its degrees of freedom), from chips of one glass beside each other."""
    squares, dof = 0.0, 0
    for letter in set(made.letters):
        ours = np.array([each == letter for each in made.letters])
        n = int(ours.sum())
        squares += ((made.ln[ours] - made.ln[ours].mean()) ** 2).sum() - made.reading[ours].sum() * (n - 1) / n
        dof += n - 1
    rule = table("slump")["kiln"]
    return leaning_variance(max(0.0, float(squares)), dof, (rule["sd_k"] * slope_per_k) ** 2, rule["dof"])


def ln_ratio(made: Doses, a: str, b: str, slope_per_k: float) -> tuple[float, float, float]:
    """(ln of η_a / η_b, half-width that holds 68 of 100, the same for 95). Every chip must have a dose; slope_per_k: of ln viscosity, 1/K."""
    of = [np.array([each == letter for each in made.letters]) for letter in (a, b)]
    heat, heat_dof = _heat(made, slope_per_k)
    from_heat = sum(heat / m.sum() for m in of)
    rest = sum(made.reading[m].sum() / m.sum() ** 2 + made.glass[m].mean() for m in of)
    by_shelf = made.shelves[:, of[1]].mean(axis=1) - made.shelves[:, of[0]].mean(axis=1)  # NaN on a shelf where a chip could not have fallen so far
    rest += (np.nanmax(by_shelf) - np.nanmin(by_shelf)) ** 2 / 12.0  # any shelf of the range as likely as another
    total = from_heat + rest
    dof = heat_dof * (total / from_heat) ** 2
    value = made.ln[of[1]].mean() - made.ln[of[0]].mean()
    return float(value), *half_widths(float(np.sqrt(total)), float(dof))


def ln_change_to(chips: Chips, share: float) -> np.ndarray:
    """ln of the dose (n,) that would bring each chip to `share` of its drop ÷ the dose that it had.

    A chip at or past nine tenths is taken at nine tenths, and one that hardly moved at three standard deviations of the reading at most.
    """
    s = chips.shelf()
    rest = rest_height(s)
    room = chips.before - rest
    had = np.clip(chips.before - chips.after, np.minimum(3.0 * chips.sd, 0.1 * room), 0.9 * room)
    return np.log(dose_to(s, chips.before, share) / dose(s, chips.before, chips.before - had))


def program_dose(peak_c, hold_s: float, rise_k_s: float, vft: dict):
    """∫ dt/η in 1/Pa of a firing, η from a curve {a, b, t0_c}: a steady rise over the last 250 K, then the hold. Cooling is left out, being fast there."""
    peak_c = np.asarray(peak_c, dtype=float)
    at = peak_c[..., None] - np.linspace(250.0, 0.0, 501)
    fluid = 10.0 ** (1.0 - log_eta_vft(np.maximum(at, vft["t0_c"] + 1.0), vft["a"], vft["b"], vft["t0_c"]))
    return np.trapezoid(fluid, at, axis=-1) / rise_k_s + hold_s * fluid[..., -1]


def peak_of_dose(ln_dose: float, hold_s: float, rise_k_s: float, vft: dict) -> float:
    """°C that a firing must have reached to give a dose of e**ln_dose per Pa; between 300 K above T0 and 1400 °C, read off a fine grid."""
    peaks = np.arange(vft["t0_c"] + 300.0, 1400.0, 1.0)
    return float(np.interp(ln_dose, np.log(program_dose(peaks, hold_s, rise_k_s, vft)), peaks))
