"""Count every model's errors on the open measurements and write server/physics/data/accuracy.json.

Run `python -m tests.accuracy`. The result is deterministic; tests/reference/test_accuracy.py checks that the file is this count.
"""

import csv
import json
import re
from collections import defaultdict
from contextlib import contextmanager
from functools import cache
from pathlib import Path

import numpy as np

from server.physics import accuracy as physics_accuracy
from server.physics.accuracy import SIDES, STATES
from server.physics.bounds import Glasses, family_index
from server.physics.combine import first_passed
from server.physics.composition import INDEX, OXIDES, wt_pct_from_mol_pct
from server.physics.estimate import estimate
from server.physics.evaluate import answer
from server.physics.learned import isokoms_of
from server.physics.table import DATA, models_of, table

OPEN = Path(__file__).parent / "reference" / "open"
FOLDS = OPEN.parent / "folds.csv"  # what learned models said of glasses kept from them; written by tests/learn.py
SHARES = {"68": 0.683, "95": 0.954}
ENOUGH = {"68": 8, "95": 20}  # glasses of a family below which its width is that of all glasses: one outlier in nine is no 95 %
CACHED = (physics_accuracy._cell, physics_accuracy.u_table, physics_accuracy.combined_table)
BORROWED = {"68": 8, "95": 20}  # how many glasses of the whole a family's own count is mixed with; tails need more
PAIR_STEPS = (0, 2, 4, 6, 8, 12, 20, 60)  # mol% between two glasses
ENOUGH_PAIRS = 100
LEVELS = (4.0, 7.6, 13.0)
WIDEST_GAP = 2.5  # decades between the two measurements that an isokom is read between
READ_ALONG_A = -1.5  # readings between two points follow a VFT of this A, typical of the measured glasses
# Melts that a model was made from say nothing of how it does on others. The compiled glasses 834 to 859, each read at whole
# decades from log 3 and laid out like a design, are almost certainly the authors' own melts (they are met within 1-5 K).
MADE_FROM = {"lakatos-1972": range(834, 860)}
CITATION = (
    "Viscosity: Ferraina, Baldoni & Le Losq (2024), silicate melt viscosity database, IPGP Research Collection, "
    "doi 10.18715/IPGP.2024.lycv4gsa. Expansion: data accompanying Le Losq, Valentine, Mysen & Neuville (2021), "
    "Geochim. Cosmochim. Acta 314, 27-54. One value per glass, without the melts that a model was made from; error = model minus measured."
)


def _rows(name: str) -> list[dict]:
    with (OPEN / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def _mol_row(row: dict) -> np.ndarray:
    """mol% by our oxide order from lower-case columns."""
    mol = np.zeros(len(OXIDES))
    for name in OXIDES:
        mol[INDEX[name]] = float(row.get(name.lower()) or 0)
    return mol


def glasses_of(mol: np.ndarray) -> Glasses:
    """Glasses from mol% of any total, shape (n, oxides)."""
    return Glasses(wt_pct_from_mol_pct(mol), 100 * mol / mol.sum(axis=1, keepdims=True))


def read_isokom(points: list[tuple[float, float]], level: float) -> float | None:
    """Temperature in °C read at log10(dPa·s) = level between two measured (log_eta, temperature_c), or None."""
    points = sorted(points)
    for (low, t_low), (high, t_high) in zip(points, points[1:], strict=False):
        if low <= level <= high and 0 < high - low <= WIDEST_GAP:
            u_low, u_high, u = (1 / (x - READ_ALONG_A) for x in (low, high, level))
            return t_high + (t_low - t_high) * (u - u_high) / (u_low - u_high)
    return None


def measured_isokoms() -> tuple[Glasses, np.ndarray, np.ndarray]:
    """(glasses, temperatures (levels, n) in °C with NaN where not measured, glass numbers (n,))."""
    points, mol = defaultdict(list), {}
    for row in _rows("viscosity.csv"):
        points[row["glass"]].append((float(row["log_eta_dpas"]), float(row["temperature_c"])))
        mol[row["glass"]] = _mol_row(row)
    keys = sorted(points, key=int)
    read = [[read_isokom(points[key], level) for key in keys] for level in LEVELS]
    return glasses_of(np.array([mol[key] for key in keys])), np.array(read, dtype=float), np.array(keys, dtype=int)


def measured_expansion() -> tuple[Glasses, np.ndarray]:
    """(glasses, alpha (n,) in 1e-7/K)."""
    rows = _rows("expansion.csv")
    return glasses_of(np.array([_mol_row(row) for row in rows])), np.array([float(r["alpha_1e6_per_k"]) * 10 for r in rows])


def kept_answers(kept: str, quantity: str) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """{key of a learned model: (values (levels, n), distance (n,))} that it said of glasses kept from it, from folds.csv."""
    said = {}
    for model in models_of(quantity):
        if any(r[:2] == [model["key"], kept] for r in _folds()):
            found, far = kept_outputs(kept, model["key"])
            said[model["key"]] = (isokoms_of(model, found, LEVELS) if quantity == "viscosity" else found, far)
    return said


def kept_outputs(kept: str, key: str) -> tuple[np.ndarray, np.ndarray]:
    """(outputs (outputs, n), distance (n,)) of a learned model for glasses kept from it."""
    rows = [r for r in _folds() if r[0] == key and r[1] == kept]
    assert [int(r[2]) for r in rows] == list(range(len(rows)))
    return np.array([[float(x) for x in r[4:] if x] for r in rows]).T, np.array([float(r[3]) for r in rows])


@cache
def _folds() -> list[list[str]]:
    with FOLDS.open(encoding="utf-8") as file:
        return list(csv.reader(file))[1:]


def count(errors: np.ndarray) -> dict | None:
    """n, median error, median and 90th percentile of |error|, and what held 68.3 % (u) and 95.4 % (u95) of the |errors|."""
    errors = errors[np.isfinite(errors)]
    if not len(errors):
        return None
    size = np.abs(errors)
    shares = {"median_abs": 0.5, "p90": 0.9, "u": 0.683, "u95": 0.954}
    return {"n": len(errors), "bias": round(float(np.median(errors)), 1), **{k: round(float(np.quantile(size, q)), 1) for k, q in shares.items()}}


def families_of(glasses: Glasses) -> dict[str, np.ndarray]:
    """Family key -> its members (n,), and 'any' -> all."""
    keys = [family["key"] for family in table("families")["families"]]
    index = family_index(glasses, table("families")["families"])
    return {key: index == i for i, key in enumerate(keys)} | {"any": np.ones(len(index), dtype=bool)}


def count_sides(glasses: Glasses, sides: dict[str, tuple[np.ndarray, dict]]) -> dict:
    """Counts by family and side. sides: name -> (where it holds (n,), errors by property (n,))."""
    counts = {}
    for family, members in families_of(glasses).items():
        counts[family] = {}
        for side, (where, errors) in sides.items():
            cells = {prop: count(e[members & where]) for prop, e in errors.items()}
            counts[family][side] = {prop: cell for prop, cell in cells.items() if cell}
    return counts


def count_model(model: dict, glasses: Glasses, measured: dict, said: tuple) -> dict:
    """Counts of one model inside its bounds, and outside them but within its reach; of a learned one also with whole sources kept.

    said: answers (near, far, source), the last for learned models with named sources.
    """
    sides = {}
    for side, (values, far) in zip((*SIDES, "source"), said, strict=False):
        inside = first_passed(model, glasses, "bounds", far) == -1
        reached = (first_passed(model, glasses, "reach", far) == -1) if model["reach"] else np.zeros(len(inside), dtype=bool)
        sides[side] = (~inside & reached if side == "outside" else inside, errors_of(values, measured))
    return count_sides(glasses, sides)


def errors_of(values: np.ndarray, measured: dict[str, np.ndarray]) -> dict[str, np.ndarray]:
    """Model minus measured by property (n,); the width of the working range beside the isokoms."""
    errors = {prop: values[k] - read for k, (prop, read) in enumerate(measured.items())}
    return errors | {"range": errors["4"] - errors["7.6"]} if "4" in errors else errors


def without_own_melts(model: dict, measured: dict, numbers: np.ndarray) -> dict:
    """The measurements without the melts that a model was made from."""
    own = np.isin(numbers, MADE_FROM.get(model["key"], ()))
    return {prop: np.where(own, np.nan, read) for prop, read in measured.items()}


def count_models(quantity: str, glasses: Glasses, measured: dict, numbers: np.ndarray) -> dict:
    """Counts of every model of a quantity; learned ones on glasses that were kept from them."""
    kept = [kept_answers(kind, quantity) for kind in ("near", "far", "source")]
    counts = {}
    for model in models_of(quantity):
        key = model["key"]
        said = [k[key] for k in kept if key in k] or (answer(model, glasses, LEVELS),) * 2
        counts[key] = count_model(model, glasses, without_own_melts(model, measured, numbers), said)
    return counts


def combined_scores(quantity: str, glasses: Glasses, measured: dict, numbers: np.ndarray) -> dict[str, dict[str, tuple]]:
    """Combined state -> property -> (errors, errors over the models' spread), each (n,) with NaN where it is another state."""
    every = without_own_melts({"key": "lakatos-1972"}, measured, numbers)
    scores = {}
    for state, kept in enumerate(("near", "far")):
        made = estimate(glasses.wt, said=kept_answers(kept, quantity))
        answers, spread, states = spread_of(made, quantity)
        errors = errors_of(answers, every)
        props = {p: (np.where(states == state, e, np.nan), e / spread[p]) for p, e in errors.items()}
        scores[STATES[state]] = props
    return scores


def measured_points() -> dict:
    """The content of accuracy_points.json: [estimated, measured] of each kept glass, whole numbers, no compositions."""
    points = {}
    for quantity, (glasses, measured, _numbers, _clusters) in quantities().items():
        made = estimate(glasses.wt, said=kept_answers("near", quantity))
        answers, _spread, states = spread_of(made, quantity)
        for k, (prop, read) in enumerate(measured.items()):
            here = np.isfinite(read) & np.isfinite(answers[k]) & (states == 0)
            points[prop] = sorted([round(e), round(m)] for e, m in zip(answers[k][here], read[here], strict=True))
    return {"citation": CITATION, "points": points}


def spread_of(made, quantity: str) -> tuple[np.ndarray, dict[str, np.ndarray], np.ndarray]:
    """(answers, spread by property, state) of the combination, before calibration."""
    if quantity == "expansion":
        return made.alpha[None, :], {"alpha": made.alpha_spread_u}, made.alpha_state
    spread = dict(zip(("4", "7.6", "13"), made.isokom_spread_u_k, strict=True)) | {"range": made.range_spread_u_k}
    return made.isokom_c, spread, made.viscosity_state


def calibrate(score: tuple, members: np.ndarray, halves: np.ndarray) -> dict | None:
    """The count of a family's combined errors, with the factors on the spread that held 68.3 % and 95.4 % of them.

    Families borrow from all glasses with the weight of BORROWED glasses. held68 and held95: shares held where the
    factors came from the other half of the clusters.
    """
    errors, z = score
    here = members & np.isfinite(errors)
    cell = count(errors[here])
    if cell is None:
        return None
    every = np.isfinite(errors)
    cell |= {f"c{name}": round(_factor(z, here, every, name), 4) for name in SHARES}
    for name in SHARES:
        held = [np.abs(z[here & (halves == h)]) <= _factor(z, here & (halves != h), every & (halves != h), name) for h in (0, 1)]
        cell[f"held{name}"] = round(float(np.concatenate(held).mean()), 3)
    return cell


def _factor(z: np.ndarray, here: np.ndarray, every: np.ndarray, name: str) -> float:
    """Weighted quantile of |z|: the family's glasses count 1 each, all glasses BORROWED together, and alone where the family has too few.

    The family counts as half a glass more, beyond them all, so that few glasses do not make it narrow (plotting positions of Hazen 1914, from memory).
    """
    if here.sum() < ENOUGH[name]:
        here = np.zeros_like(here)
    size = np.abs(np.concatenate([z[here], z[every]]))
    weight = np.concatenate([np.ones(here.sum()), np.full(every.sum(), BORROWED[name] / max(every.sum(), 1))])
    order = np.argsort(size)
    reached = np.cumsum(weight[order]) / (weight.sum() + 0.5 * here.any())
    return float(size[order][min(np.searchsorted(reached, SHARES[name]), len(size) - 1)])


def count_combined(quantities: dict) -> dict:
    """family -> state -> property -> calibrated cell."""
    counts = {f: {s: {} for s in STATES} for f in (*(f["key"] for f in table("families")["families"]), "any")}
    for quantity, (glasses, measured, numbers, clusters) in quantities.items():
        names = sorted(set(clusters))
        halves = np.array([names.index(c) % 2 for c in clusters])
        for state, props in combined_scores(quantity, glasses, measured, numbers).items():
            for family, members in families_of(glasses).items():
                cells = {prop: calibrate(score, members, halves) for prop, score in props.items()}
                counts[family][state] |= {prop: cell for prop, cell in cells.items() if cell}
    return counts


def repeat_floor(glasses: Glasses, measured: dict, clusters: np.ndarray) -> dict:
    """Median |difference| / sqrt(2) of glasses of one composition (within 0.3 mol% in every oxide) measured twice."""
    floor = {}
    for prop, read in measured.items():
        differences = []
        for cluster in np.unique(clusters):
            here = np.flatnonzero((clusters == cluster) & np.isfinite(read))
            pairs = [(i, j) for i in here for j in here if i < j and np.abs(glasses.mol[i] - glasses.mol[j]).max() <= 0.3]
            differences += [abs(read[i] - read[j]) for i, j in pairs]
        floor[prop] = {"pairs": len(differences), "median_abs": round(float(np.median(differences) / np.sqrt(2)), 1)}
    return floor


def count_pairs(quantity: str, glasses: Glasses, measured: dict, numbers: np.ndarray) -> dict:
    """Property -> what multiplies two half-widths added as squares so that they hold 68.3 and 95.4 of 100 differences, by distance.

    Every pair of glasses that the models answer for inside their bounds, the learned ones without the glass's cluster.
    """
    made = estimate(glasses.wt, said=kept_answers("near", quantity))
    answers, _spread, states = spread_of(made, quantity)
    errors = errors_of(answers, without_own_melts({"key": "lakatos-1972"}, measured, numbers))
    widths = dict(zip(("4", "7.6", "13"), zip(made.isokom_u_k, made.isokom_u95_k, strict=True), strict=True))
    widths |= {"range": (made.range_u_k, made.range_u95_k), "alpha": (made.alpha_u, made.alpha_u95)}
    return {prop: pair_counts(e, *widths[prop], glasses.mol, states == 0) for prop, e in errors.items()}


def pair_counts(error, u, u95, mol, answered) -> dict:
    """n, middle distance in mol%, f68 and f95 by steps of distance, from errors and half-widths (n,)."""
    i = np.flatnonzero(answered & np.isfinite(error) & np.isfinite(u95))
    a, b = (i[k] for k in np.triu_indices(len(i), 1))
    distance = np.sqrt(((mol[a] - mol[b]) ** 2).sum(axis=1))
    size = np.abs(error[a] - error[b])
    found = {"distance_mol": [], "f68": [], "f95": [], "n": []}
    for low, high in zip(PAIR_STEPS, PAIR_STEPS[1:], strict=False):
        here = (distance >= low) & (distance < high)
        if here.sum() >= ENOUGH_PAIRS:
            found["n"].append(int(here.sum()))
            found["distance_mol"].append(round(float(np.median(distance[here])), 1))
            for name, width, share in (("f68", u, "68"), ("f95", u95, "95")):
                found[name].append(round(float(np.quantile(size[here] / np.hypot(width[a], width[b])[here], SHARES[share])), 2))
    return found


def quantities() -> dict:
    """Quantity -> (glasses, measured by property, glass numbers, clusters)."""
    glasses, read, numbers = measured_isokoms()
    cluster = {int(r["glass"]): r["cluster"] for r in _rows("viscosity.csv")}
    clusters = np.array([cluster[n] for n in numbers])
    others, alpha = measured_expansion()
    names = np.array([r["cluster"] for r in _rows("expansion.csv")])
    isokoms = dict(zip(("4", "7.6", "13"), read, strict=True))
    return {"viscosity": (glasses, isokoms, numbers, clusters), "expansion": (others, {"alpha": alpha}, np.full(len(alpha), -1), names)}


def count_all() -> dict:
    """The whole content of accuracy.json. Three passes: the models' counts give the weights, the combination is counted with them, pairs with both."""
    every = quantities()
    result = {"citation": CITATION, "units": "K; 1e-7/K for alpha", "floor": {}, "models": {}, "combined": {}}
    for quantity, (glasses, measured, numbers, clusters) in every.items():
        result["models"] |= count_models(quantity, glasses, measured, numbers)
        result["floor"] |= repeat_floor(glasses, measured, clusters)
    with counted_by(result["models"]):
        result["combined"] = count_combined(every)
    with counted_by(result["models"], result["combined"]):
        result["pairs"] = {}
        for quantity, (glasses, measured, numbers, _clusters) in every.items():
            result["pairs"] |= count_pairs(quantity, glasses, measured, numbers)
    return result


@contextmanager
def counted_by(models: dict, combined: dict | None = None):
    """The combination weighs by these counts, whatever the file says, and by these factors or none."""
    shipped = table("accuracy")
    before = dict(shipped)
    plain = {p: {"c68": 1.0, "c95": 1.0, "bias": 0.0} for p in ("4", "7.6", "13", "range", "alpha")}
    shipped |= {"models": models, "combined": combined or defaultdict(lambda: dict.fromkeys(STATES, plain))}
    for cached in CACHED:
        cached.cache_clear()
    yield
    shipped |= before
    for cached in CACHED:
        cached.cache_clear()


def written(counts: dict) -> str:
    """The file's text: one line a cell, so that a change shows."""
    text = json.dumps(counts, indent=1, ensure_ascii=False)
    return re.sub(r"\{\s+(\"n\"[^}]*?)\s+\}", lambda cell: "{" + " ".join(cell[1].split()) + "}", text) + "\n"


if __name__ == "__main__":
    target = DATA / "accuracy.json"
    target.write_text(written(count_all()), encoding="utf-8")
    table.cache_clear()
    for cached in CACHED:
        cached.cache_clear()
    (DATA / "accuracy_points.json").write_text(json.dumps(measured_points(), separators=(",", ":")) + "\n", encoding="utf-8")
    print(f"wrote {target}")
