"""A piece in the flame: when it sags, is round and stops glowing, taken as one evenly hot sphere (model and constants: data/flame.json).

    (ρcR/3) dT/dt = h (T_g − T) − εσ (T⁴ − T_a⁴)
With P the plateau, where nothing is gained any more, the right side is (P − T) [h + εσ (P + T)(P² + T²)]: so time and dose are sums
over u = ln of (P − T0) ÷ (P − T) of smooth functions, and no differential equation has to be followed.
Curves are {a, b, t0_c} as in shift.py. h is "effective": it takes up what the sum leaves out and is no property of a torch.
Everything broadcasts, over glasses, masses, preheats and h.
"""

from dataclasses import dataclass

import numpy as np

from server.physics.curve import log_eta_vft
from server.physics.table import table

ZERO_C = 273.15
STEFAN_BOLTZMANN = 5.670374419e-8  # W/(m²K⁴), CODATA 2018
LN10 = np.log(10.0)
STEPS = np.linspace(0.0, 12.0, 301)
NODES, WEIGHTS = np.polynomial.legendre.leggauss(40)


@dataclass(frozen=True)
class Setting:
    """What is taken of glass, flame and air; SI units, names and ranges as in data/flame.json."""

    density_kg_m3: float
    heat_capacity_j_kgk: float
    emissivity: float
    tension_n_m: float
    flame_k: float
    air_convection_w_m2k: float
    room_k: float
    glow_end_k: float
    sag_dose_per_pa: float
    round_dose: float
    stall_s: float


@dataclass(frozen=True)
class History:
    """A piece in the flame at steps of u, arrays (..., u): °C, s since it came in, ∫ dt/η in 1/Pa; rates of the last two per unit of u; the plateau in °C."""

    temperature_c: np.ndarray
    time_s: np.ndarray
    dose_per_pa: np.ndarray
    ln_dose_rate: np.ndarray
    plateau_c: np.ndarray
    plateau_eta_pas: np.ndarray


def usual() -> Setting:
    """The defaults of data/flame.json."""
    return Setting(**{name: part["value"] for name, part in table("flame")["setting"].items()})


def radius_m(mass_g, density_kg_m3):
    """Radius in m of a sphere of mass_g."""
    return np.cbrt(3e-3 * np.asarray(mass_g, dtype=float) / (4.0 * np.pi * density_kg_m3))


def rod_dose_per_pa(overhang_m, diameter_m, drop_m, density_kg_m3):
    """Φ_s in 1/Pa at which the end of a round rod held at one end has dropped: 3 d² drop / (2 ρ g L⁴), bending alone. All in m and kg/m³."""
    return 3.0 * diameter_m**2 * drop_m / (2.0 * density_kg_m3 * table("slump")["gravity_m_s2"] * overhang_m**4)


def round_dose_of(start_share, end_share, mandrel_share=0.0):
    """Λ for a bead that is start_share out of round and judged even at end_share; mandrel_share: its radius ÷ the bead's, 0 to 0.5 (NaN beyond).

    0.95 is 19/20: the slowest shape of a free viscous ball decays as exp(−20γt / 19ηR).
    """
    slow = table("flame")["mandrel"]
    return 0.95 * np.log(start_share / end_share) / np.interp(mandrel_share, slow["share"], slow["slowing"], left=np.nan, right=np.nan)


def _heat_store(mass_g, s: Setting):
    """ρcR/3 in J/(m²K)."""
    return s.density_kg_m3 * s.heat_capacity_j_kgk * radius_m(mass_g, s.density_kg_m3) / 3.0


def cooling_k_s(temperature_k, mass_g, s: Setting | None = None):
    """K/s lost in air on the way from the kiln, or after the flame, at temperature_k."""
    s = s or usual()
    lost = s.air_convection_w_m2k * (temperature_k - s.room_k) + s.emissivity * STEFAN_BOLTZMANN * (temperature_k**4 - s.room_k**4)
    return lost / _heat_store(mass_g, s)


def plateau_k(h_w_m2k, s: Setting | None = None):
    """K at which a piece takes from the flame what it radiates. Newton's rule from the flame's temperature, from where it only falls."""
    s = s or usual()
    h, es = np.asarray(h_w_m2k, dtype=float), s.emissivity * STEFAN_BOLTZMANN
    at = np.full(h.shape, float(s.flame_k))
    for _ in range(20):
        at = at + (h * (s.flame_k - at) - es * (at**4 - s.room_k**4)) / (h + 4.0 * es * at**3)
    return at


def _ln_fluidity(temperature_c, vft: dict):
    """ln of 1/η in 1/Pa·s; as good as none at and below the curve's T0."""
    above = np.maximum(temperature_c, vft["t0_c"] + 1.0)
    return -LN10 * np.clip(log_eta_vft(above, vft["a"], vft["b"], vft["t0_c"]) - 1.0, -100.0, 200.0)


def _sums(ln_rate: np.ndarray) -> np.ndarray:
    """∫ along the last axis over u from 0 to each step, the rate taken as an exponential within a step."""
    rise = np.diff(ln_rate, axis=-1)
    grown = np.where(np.abs(rise) < 1e-9, 1.0, np.expm1(rise) / np.where(rise == 0.0, 1.0, rise))
    parts = np.exp(ln_rate[..., :-1]) * grown * (STEPS[1] - STEPS[0])
    return np.concatenate([np.zeros((*parts.shape[:-1], 1)), np.cumsum(parts, axis=-1)], axis=-1)


def history(vft: dict, mass_g, preheat_c, h_w_m2k, s: Setting | None = None) -> History:
    """The piece from the moment it comes into the flame; mass in g, h in W/(m²K) as it acts on this mass, preheat in °C."""
    s = s or usual()
    mass, start_c, h, *curve = (np.asarray(x, dtype=float)[..., None] for x in np.broadcast_arrays(mass_g, preheat_c, h_w_m2k, vft["a"], vft["b"], vft["t0_c"]))
    vft = dict(zip(("a", "b", "t0_c"), curve, strict=True))
    top = plateau_k(h, s)
    at = top - (top - start_c - ZERO_C) * np.exp(-STEPS)
    ln_time_rate = np.log(_heat_store(mass, s)) - np.log(h + s.emissivity * STEFAN_BOLTZMANN * (top + at) * (top**2 + at**2))
    ln_dose_rate = ln_time_rate + _ln_fluidity(at - ZERO_C, vft)
    top_c = top - ZERO_C
    return History(at - ZERO_C, _sums(ln_time_rate), _sums(ln_dose_rate), ln_dose_rate, top_c[..., 0], np.exp(-_ln_fluidity(top_c, vft))[..., 0])


def until(made: History, dose_per_pa) -> tuple[np.ndarray, np.ndarray]:
    """(s, °C) at which ∫ dt/η reaches dose_per_pa, shape of the histories; past the last step at the plateau's viscosity."""
    wanted = np.broadcast_to(np.asarray(dose_per_pa, dtype=float), made.plateau_c.shape)
    last = made.time_s.shape[-1] - 1
    step = np.clip((made.dose_per_pa < wanted[..., None]).sum(axis=-1), 1, last)

    def pick(values, at):
        return np.take_along_axis(values, at[..., None], axis=-1)[..., 0]

    low = pick(made.ln_dose_rate, step - 1)
    rise = pick(made.ln_dose_rate, step) - low
    rise = np.where(np.abs(rise) < 1e-9, 1e-9, rise)
    width = STEPS[1] - STEPS[0]
    missing = wanted - pick(made.dose_per_pa, step - 1)
    inside = np.clip(np.log1p(np.maximum(missing * rise * np.exp(-low) / width, -1.0 + 1e-12)) / rise, 0.0, 1.0)
    before, after = pick(made.time_s, step - 1), pick(made.time_s, step)
    late = np.maximum(wanted - made.dose_per_pa[..., -1], 0.0) * made.plateau_eta_pas
    cold, warm = pick(made.temperature_c, step - 1), made.plateau_c
    return before + inside * (after - before) + late, warm - (warm - cold) * np.exp(-inside * width)


def sag_time_s(vft: dict, mass_g, preheat_c, h_w_m2k, s: Setting | None = None) -> np.ndarray:
    """s until the piece begins to sag."""
    s = s or usual()
    return until(history(vft, mass_g, preheat_c, h_w_m2k, s), s.sag_dose_per_pa)[0]


def round_time_s(vft: dict, mass_g, preheat_c, h_w_m2k, s: Setting | None = None) -> np.ndarray:
    """s until the piece is round; infinite where it stalls, which is beyond s.stall_s."""
    s = s or usual()
    times = until(history(vft, mass_g, preheat_c, h_w_m2k, s), s.round_dose * radius_m(mass_g, s.density_kg_m3) / s.tension_n_m)[0]
    return np.where(times > s.stall_s, np.inf, times)


def glow_time_s(exit_c, mass_g, s: Setting | None = None) -> np.ndarray:
    """s from leaving the flame at exit_c (°C) until the glow is gone; 0 where it never glowed. Only pieces of one colour compare."""
    s = s or usual()
    exit_k = np.asarray(exit_c, dtype=float) + ZERO_C
    half = np.maximum(exit_k - s.glow_end_k, 0.0)[..., None] / 2.0
    at = s.glow_end_k + half * (1.0 + NODES)
    return (WEIGHTS * half / cooling_k_s(at, np.asarray(mass_g, dtype=float)[..., None], s)).sum(axis=-1)


def sag_slope_per_k(vft: dict, mass_g, preheat_c, h_w_m2k, s: Setting | None = None) -> np.ndarray:
    """1/K by which ln of the sag time rises when the whole curve lies hotter. Weak torches have more."""
    up, down = (np.log(sag_time_s({**vft, "t0_c": vft["t0_c"] + k}, mass_g, preheat_c, h_w_m2k, s)) for k in (1.0, -1.0))
    return (up - down) / 2.0
