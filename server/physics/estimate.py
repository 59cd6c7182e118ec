"""From analyses to working properties: the one estimate that the pages, the command line and the tests use.

Vectorised over n analyses. Rules and their sources are data (data/rules.json, data/families.json, data/models/).
"""

from dataclasses import dataclass, field

import numpy as np

from server.physics import combine as c
from server.physics.analysis import propagated, total_sd
from server.physics.bounds import EPS, Glasses, family_index, family_shares
from server.physics.composition import INDEX, base_glass, mol_pct_from_wt_pct
from server.physics.curve import vft_through
from server.physics.evaluate import answer
from server.physics.table import models_of, table

OK, EXTRAPOLATED, REFUSED = range(3)
STATUS = ("ok", "extrapolated", "refused")
LEVELS = tuple(float(table("rules")["fixed_points"][k]) for k in ("working", "softening", "annealing"))
LEVEL_KEYS = ("4", "7.6", "13")
FAMILIES = table("families")["families"]
BLEND = table("families")["blend"]


@dataclass
class Note:
    """A caution or remark: where it holds (n,) and the values that its sentence prints, each (n,) or text."""

    code: str
    where: np.ndarray
    values: dict = field(default_factory=dict)


@dataclass
class Estimates:
    """Working properties of n analyses. NaN where refused. Temperatures °C, widths K, alpha 1e-7/K, log in dPa·s.

    spread_u is what the models and their disagreement give before calibration; it holds nothing of the analysis. analysis_u
    (5, n) is the part of u that comes from the analysis: the three isokoms, the range, alpha; None where it counts as exact.
    """

    status: np.ndarray
    family: np.ndarray
    total_wt: np.ndarray
    glasses: Glasses
    isokom_c: np.ndarray
    isokom_spread_u_k: np.ndarray
    isokom_u_k: np.ndarray
    isokom_u95_k: np.ndarray
    strain_c: np.ndarray
    strain_u_k: np.ndarray
    range_k: np.ndarray
    range_spread_u_k: np.ndarray
    range_u_k: np.ndarray
    range_u95_k: np.ndarray
    vft: tuple[np.ndarray, np.ndarray, np.ndarray]
    alpha: np.ndarray
    alpha_spread_u: np.ndarray
    alpha_u: np.ndarray
    alpha_u95: np.ndarray
    alpha_state: np.ndarray
    viscosity_state: np.ndarray
    analysis_u: np.ndarray | None
    viscosity_verdicts: list[c.Verdict]
    expansion_verdicts: list[c.Verdict]
    notes: list[Note]


def estimate(
    wt_pct: np.ndarray, weathered: np.ndarray | None = None, sd_wt: np.ndarray | None = None, said: dict | None = None
) -> Estimates:
    """Estimate from wt% as analysed, shape (n, oxides), any total. Never raises on a poor row: it is refused with a note.

    Negative and non-finite amounts count as unreadable rows. weathered (n,) is True for analyses of a weathered
    surface, which are refused. sd_wt (n, oxides) is one standard deviation of each amount; without it the analysis counts as
    exact, as with the measured glasses on which the models were counted, but for a total far from 100. said {model key: (values, distance)} stands in for what these models would say: for counting
    learned models on glasses that were kept from them.
    """
    readable = np.isfinite(wt_pct).all(axis=1) & (wt_pct >= 0).all(axis=1)
    wt_pct = np.where(readable[:, None], wt_pct, 0.0)
    total = wt_pct.sum(axis=1)
    base = base_glass(wt_pct)
    glasses = Glasses(base, mol_pct_from_wt_pct(base))
    family, shares = family_index(glasses, FAMILIES), family_shares(glasses, FAMILIES, BLEND)
    skin = np.zeros(len(wt_pct), dtype=bool) if weathered is None else weathered
    notes, open_to = _gate(wt_pct, total, glasses, readable, skin)
    viscosity = _asked("viscosity", LEVEL_KEYS, glasses, shares, open_to, said or {})
    expansion = _asked("expansion", ("alpha",), glasses, shares, open_to, said or {})
    sd = np.hypot(total_sd(wt_pct), 0.0 if sd_wt is None else sd_wt)
    unsure = sd_wt is not None or bool((sd[open_to] > 0).any())
    doubt = np.vstack([propagated(x, wt_pct, sd, LEVELS) for x in (viscosity, expansion)]) if unsure else None
    return _assemble(total, glasses, (family, shares), open_to, notes, viscosity, expansion, doubt)


def _gate(wt_pct, total, glasses: Glasses, readable, skin) -> tuple[list[Note], np.ndarray]:
    """Notes on the analysis as such, and where it may be used at all."""
    rule = table("rules")["totals"]
    accepted, noted, trusted = (_between(total, rule[name]) for name in ("accept", "note", "trust"))
    silica = glasses.wt[:, INDEX["SiO2"]]
    layer, suspect = _weathered(glasses)
    refusals = [
        Note("unreadable", ~readable),
        Note("weathered_surface", skin),
        Note("no_silica", readable & (silica <= 0)),
        Note("total_refused", readable & ~trusted, {"total": total}),
        Note("weathered_layer", layer, {"silica": silica, "alkali": glasses.of(["Na2O", "K2O"])}),
    ]
    open_to = ~np.any([note.where for note in refusals], axis=0)
    chlorine = wt_pct[:, INDEX["Cl"]] + wt_pct[:, INDEX["F"]]
    iron_both = (wt_pct[:, INDEX["FeO"]] > 0) & (wt_pct[:, INDEX["Fe2O3"]] > 0)
    remarks = [
        Note("total_trust", open_to & trusted & ~noted, {"total": total}),
        Note("total_note", open_to & noted & ~accepted, {"total": total}),
        Note("weathered_suspect", open_to & suspect),
        Note("iron_both", open_to & iron_both),
        Note("chlorine_left_out", open_to & (chlorine > 0), {"amount": chlorine}),
    ]
    return refusals + remarks, open_to


def _between(value: np.ndarray, limits: list[float]) -> np.ndarray:
    return (value >= limits[0] - EPS) & (value <= limits[1] + EPS)


def _weathered(glasses: Glasses) -> tuple[np.ndarray, np.ndarray]:
    """(almost surely a weathered layer, perhaps weathered), each (n,)."""
    rule = table("rules")["weathered"]
    silica, soda, potash = (glasses.of([name]) for name in ("SiO2", "Na2O", "K2O"))
    lead, boron, lime = (glasses.of([name]) for name in ("PbO", "B2O3", "CaO"))
    layer = (silica > rule["silica_above_wt"]) & (soda + potash < rule["alkali_below_wt"]) & (boron < rule["boron_below_wt"])
    other = rule["other_below_wt"]
    poor = (soda + potash < rule["flux_below_wt"]) & (potash < other) & (lead < other) & (boron < other) & (lime < rule["lime_below_wt"])
    return layer, poor & ~layer


def _asked(quantity: str, props: tuple[str, ...], glasses: Glasses, shares, open_to, said: dict) -> c.Combined:
    """Every model of a quantity asked, and combined."""
    answers = [(m, said.get(m["key"]) or answer(m, glasses, LEVELS)) for m in models_of(quantity)]
    return c.combine([c.ask(m, glasses, shares, open_to, props, a) for m, a in answers], shares, props)


def _assemble(total, glasses: Glasses, kin: tuple, open_to, notes, viscosity: c.Combined, expansion: c.Combined, doubt) -> Estimates:
    family, shares = kin
    part = np.zeros((5, len(total))) if doubt is None else doubt
    isokom, u, u95, vft = _curve(viscosity, glasses, part[:3])
    range_spread = _range_spread_u(viscosity, shares)
    strain_rule = table("rules")["strain"]
    state = np.where(np.isfinite(vft[0]), viscosity.state, c.REFUSED)
    status = _status(state, expansion.state, notes)
    notes = notes + _model_notes(viscosity, state, expansion, glasses, open_to)
    leadless = glasses.of(["PbO"]) <= table("rules")["lead"]["widen_above_wt"]
    notes = notes + _one_sided(viscosity, u, (state <= c.EXTRAPOLATED) & leadless, family) + _apart(viscosity, expansion, state <= c.EXTRAPOLATED)
    return Estimates(
        status, family, total, glasses, isokom, viscosity.spread_u, u, u95,
        isokom[2] - strain_rule["below_annealing_k"], np.hypot(u[2], strain_rule["u_k"]),
        isokom[0] - isokom[1], range_spread, *_range_u(viscosity.state, shares, range_spread, part[3]), vft,
        expansion.value[0], expansion.spread_u[0], np.hypot(expansion.u[0], part[4]), np.hypot(expansion.u95[0], 2 * part[4]),
        expansion.state, viscosity.state, doubt, viscosity.verdicts, expansion.verdicts, notes,
    )


def _lead_k(glasses: Glasses) -> np.ndarray:
    """Extra standard uncertainty in K for lead that the models ignore, shape (n,)."""
    rule = table("rules")["lead"]
    lead = glasses.of(["PbO"])
    return np.where(lead > rule["widen_above_wt"], rule["k_per_wt"] * lead, 0.0)


def _curve(viscosity: c.Combined, glasses: Glasses, analysis_u: np.ndarray):
    """Isokoms, their u and u95 (3, n), and the VFT through them; NaN together where no sound curve exists."""
    vft = vft_through(LEVELS, viscosity.value)
    sound = np.isfinite(vft[0])
    isokom = np.where(sound, viscosity.value, np.nan)
    lead = _lead_k(glasses)
    more = np.hypot(lead, analysis_u)
    u, u95 = np.hypot(viscosity.u, more), np.hypot(viscosity.u95, 2 * more)
    return isokom, np.where(sound, u, np.nan), np.where(sound, u95, np.nan), vft


def _range_u(state: np.ndarray, shares: np.ndarray, spread: np.ndarray, analysis_u: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """u and u95 of the width of the working range, each (n,)."""
    c68, c95 = (c.calibrated(state, shares, ("range",), what)[0] for what in ("c68", "c95"))
    return np.hypot(c68 * spread, analysis_u), np.hypot(c95 * spread, 2 * analysis_u)


def _range_spread_u(viscosity: c.Combined, shares) -> np.ndarray:
    """Spread of working minus softening point (n,): the errors of the two go together, so their width is counted by itself."""
    square, weights = np.zeros(len(shares)), np.zeros(len(shares))
    for v, part in zip(viscosity.verdicts, viscosity.weights, strict=True):
        u = c.between(c.u_table(v.model["key"], "range"), v.edge, shares)
        takes_part = (part[1] > 0) & np.isfinite(u)
        weight = np.where(takes_part, 1.0 / v.u[1] ** 2, 0.0)
        square = square + weight * np.where(takes_part, u, 0.0) ** 2
        weights = weights + weight
    return np.sqrt(square / np.where(weights > 0, weights, np.nan))


def _status(viscosity_state, expansion_state, notes: list[Note]) -> np.ndarray:
    """ok, extrapolated or refused: refused where there is no viscosity, extrapolated where anything was stretched."""
    distrust = np.any([n.where for n in notes if n.code in {"total_trust", "weathered_suspect"}], axis=0)
    stretched = (viscosity_state == c.EXTRAPOLATED) | (expansion_state == c.EXTRAPOLATED) | distrust
    return np.where(viscosity_state > c.EXTRAPOLATED, REFUSED, np.where(stretched, EXTRAPOLATED, OK))


def _apart(viscosity: c.Combined, expansion: c.Combined, answered: np.ndarray) -> list[Note]:
    """Where two combined models lie further apart than their errors, and by how much."""
    notes = []
    for code, combined, level in (("apart_working", viscosity, 0), ("apart_softening", viscosity, 1), ("apart_expansion", expansion, 0)):
        gap, doubt = c.furthest_apart(combined, level)
        where = (gap > 0) & (answered if combined is viscosity else combined.state <= c.EXTRAPOLATED)
        notes.append(Note(code, where, {"gap": gap, "doubt": doubt}))
    return notes


def _one_sided(viscosity: c.Combined, u: np.ndarray, answered: np.ndarray, family: np.ndarray) -> list[Note]:
    """Where the models erred mostly to one side in this family, in words, and what casts doubt on it: bias is model minus measured."""
    rule = table("rules")["one_sided"]
    notes = []
    for point in rule["points"]:
        level = ("working", "softening").index(point)
        size = np.abs(viscosity.bias[level])
        clear = answered & (size >= rule["least_k"]) & (size >= rule["least_share_of_u"] * u[level])
        for word, sign in (("hotter", -1.0), ("cooler", 1.0)):
            notes.append(Note(f"{word}_{point}", clear & (sign * viscosity.bias[level] > 0), {"bias": size}))
        notes += [Note(f["doubted"][point], clear & (family == i)) for i, f in enumerate(FAMILIES) if point in f.get("doubted", {})]
    return notes


def _hazard(rule: dict, glasses: Glasses) -> Note:
    """A caution for what the glass gives off, whether or not it can be estimated."""
    amount = glasses.of(rule["of"])
    return Note(rule["code"], amount > rule["above_wt"] + EPS, {"amount": amount})


def _model_notes(viscosity: c.Combined, state, expansion: c.Combined, glasses: Glasses, open_to) -> list[Note]:
    lead = glasses.of(["PbO"])
    answered = state <= c.EXTRAPOLATED
    widened = answered & (lead > table("rules")["lead"]["widen_above_wt"])
    curve_lost = open_to & (viscosity.state <= c.EXTRAPOLATED) & ~answered
    hazards = [_hazard(rule, glasses) for rule in table("rules")["hazards"]]
    return hazards + [
        Note("no_viscosity_model", open_to & (viscosity.state > c.EXTRAPOLATED)),
        Note("no_sound_curve", curve_lost),
        Note("viscosity_extrapolated", state == c.EXTRAPOLATED),
        Note("expansion_extrapolated", expansion.state == c.EXTRAPOLATED),
        Note("no_expansion_model", open_to & (expansion.state > c.EXTRAPOLATED)),
        Note("lead_widened", widened, {"lead": lead}),
    ]
