"""Learn models from the open measurements: `python -m tests.learn` writes server/physics/data/models/open-fit-*.json and tests/reference/folds.csv.

Deterministic: no chance enters. The folds are what a model says of glasses that were kept from it: by composition cluster
("near"), and by whole regions of composition ("far"), which shows what it is worth away from measured glasses.
"""

import csv
import json
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from server.physics.bounds import Glasses
from server.physics.combine import first_passed
from server.physics.learned import coordinates, exponents, isokom_weights, outputs, polynomial_terms
from server.physics.table import DATA
from tests import accuracy, property_accuracy

FOLDS = Path(__file__).parent / "reference" / "folds.csv"
NEAR_FOLDS, REGIONS = 10, 40
ROUNDS = 8
JITTER = 1e-4


@dataclass
class Problem:
    """Measured rows: glass of each (rows,), what each output adds to it (rows, outputs), value, and expected error (rows,)."""

    glasses: Glasses
    clusters: np.ndarray
    sources: np.ndarray
    glass_of_row: np.ndarray
    mixing: np.ndarray
    value: np.ndarray
    error: np.ndarray


def viscosity_problem(model: dict) -> Problem:
    """Temperatures at measured viscosities; many rows of one glass share its error, so each counts for less."""
    rows = [r for r in accuracy._rows("viscosity.csv") if model["learnt"]["least_log"] <= float(r["log_eta_dpas"]) <= model["learnt"]["most_log"]]
    every = sorted({int(r["glass"]) for r in accuracy._rows("viscosity.csv")})
    place = {glass: i for i, glass in enumerate(every)}
    first = {int(r["glass"]): r for r in reversed(accuracy._rows("viscosity.csv"))}
    of_row = np.array([place[int(r["glass"])] for r in rows])
    level = np.array([float(r["log_eta_dpas"]) for r in rows])
    hot, cold = model["learnt"]["error_k"]
    own = np.array([isokom_weights(model, x) for x in level])
    mixing = np.stack([own.sum(axis=1), own[:, 0] + own[:, 1], own[:, 0]], axis=1)
    share = np.clip((13 - level) / 9, 0, 1.3)
    error = (cold + (hot - cold) * share) * np.bincount(of_row, minlength=len(every))[of_row] ** (model["learnt"]["row_power"] / 2)
    mol = np.array([accuracy._mol_row(first[g]) for g in every])
    labels = [np.array([first[g][name] for g in every]) for name in ("cluster", "source")]
    return Problem(accuracy.glasses_of(mol), *labels, of_row, mixing, np.array([float(r["temperature_c"]) for r in rows]), error)


def plain_problem(model: dict) -> Problem:
    """One measured value a glass."""
    learnt = model["learnt"]
    rows = accuracy._rows(learnt["file"])
    for name, (low, high) in learnt.get("where", {}).items():
        rows = [row for row in rows if low <= float(row[name]) <= high]
    value = np.array([float(r[learnt["column"]]) for r in rows]) * learnt["factor"]
    clusters = np.array([r["cluster"] for r in rows])
    n = len(rows)
    glasses = accuracy.glasses_of(np.array([accuracy._mol_row(r) for r in rows]))
    return Problem(glasses, clusters, np.full(n, ""), np.arange(n), np.ones((n, 1)), value, np.full(n, float(learnt["error"])))


def spread_centres(z: np.ndarray, count: int) -> list[int]:
    """Rows that cover the others best: each next one is the farthest from those chosen."""
    chosen, far = [0], ((z - z[0]) ** 2).sum(axis=1)
    while len(chosen) < count and far.max() > 1e-3:
        chosen.append(int(far.argmax()))
        far = np.minimum(far, ((z - z[chosen[-1]]) ** 2).sum(axis=1))
    return chosen


def fit(model: dict, problem: Problem, take: np.ndarray) -> dict:
    """The model with centres and coefficients learnt from the glasses that are True in `take` (n,)."""
    learnt = model["learnt"]
    x = np.round(coordinates(model, problem.glasses), 2)
    lengths = np.array(model["lengths"])
    centres = x[take][spread_centres(x[take] / lengths, learnt["centres"])]
    made = {**model, "centres": centres.tolist()}
    root = np.linalg.cholesky(np.exp(exponents(made, centres)) + JITTER * np.eye(len(centres)))
    rows = take[problem.glass_of_row]
    of_row, mixing = problem.glass_of_row[rows], problem.mixing[rows]
    bells = np.linalg.solve(root, np.exp(exponents(made, x)).T).T
    features = np.concatenate([polynomial_terms(made, x), bells], axis=1)
    design = (mixing[:, :, None] * features[of_row][:, None, :]).reshape(len(of_row), -1)
    terms, width = len(model["polynomial"]), features.shape[1]
    prior = np.concatenate([np.r_[np.full(terms, learnt["polynomial_sd"]), np.full(width - terms, sd)] for sd in learnt["bell_sd"]])
    start = np.zeros(design.shape[1])
    start[::width] = learnt["start"]
    weights = robust_ridge(design, problem.value[rows] - design @ start, problem.error[rows], prior, learnt["cauchy"])
    parts = (start + weights).reshape(-1, width)
    made["outputs"] = [{"terms": _digits(p[:terms]), "bells": _digits(np.linalg.solve(root.T, p[terms:]))} for p in parts]
    return made


def robust_ridge(design, value, error, prior_sd, cauchy: float) -> np.ndarray:
    """Least squares with a normal prior, rows far off counting ever less (Cauchy weights, iterated)."""
    trust = np.ones(len(value))
    for _ in range(ROUNDS):
        weighted = design * (trust / error**2)[:, None]
        weights = np.linalg.solve(weighted.T @ design + np.diag(1.0 / prior_sd**2), weighted.T @ value)
        trust = 1.0 / (1.0 + ((value - design @ weights) / error / cauchy) ** 2)
    return weights


def _digits(values: np.ndarray) -> list[float]:
    return [float(f"{v:.10g}") for v in values]


def near_folds(problem: Problem) -> np.ndarray:
    """Fold of each glass (n,): clusters in the order of their names, dealt out in turn."""
    names = sorted(set(problem.clusters))
    deal = {name: i * 7919 % len(names) % NEAR_FOLDS for i, name in enumerate(names)}
    return np.array([deal[name] for name in problem.clusters])


def far_folds(model: dict, problem: Problem) -> np.ndarray:
    """Fold of each glass (n,): regions round spread-out glasses."""
    z = coordinates(model, problem.glasses) / np.array(model["lengths"])
    seeds = z[spread_centres(z, REGIONS)]
    return ((z[:, None, :] - seeds[None]) ** 2).sum(axis=2).argmin(axis=1)


def source_folds(problem: Problem) -> np.ndarray:
    """Fold of each glass (n,): named sources; the compiled ones, whose papers are not named, in runs of 60 glasses of the file."""
    runs = np.where(problem.sources == "compiled", np.char.add("compiled ", (np.cumsum(problem.sources == "compiled") // 60).astype(str)), problem.sources)
    return np.unique(runs, return_inverse=True)[1]


def part(glasses: Glasses, where: np.ndarray) -> Glasses:
    """The glasses that are True in `where` (n,)."""
    return Glasses(glasses.wt[where], glasses.mol[where])


def kept_from(model: dict, problem: Problem, fold: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(outputs (outputs, n), distance (n,)) for each glass by the model that never saw its fold."""
    found, far = np.zeros((problem.mixing.shape[1], len(fold))), np.zeros(len(fold))
    for k in np.unique(fold):
        made = fit(model, problem, fold != k)
        here = part(problem.glasses, fold == k)
        found[:, fold == k], far[fold == k] = outputs(made, here)
    return found, far


def problem_of(model: dict) -> Problem:
    """The measurements that a model learns from."""
    return viscosity_problem(model) if model.get("quantity") == "viscosity" else plain_problem(model)


def learn(model: dict) -> tuple[dict, list[list]]:
    """(finished model, rows for the folds file)."""
    problem = problem_of(model)
    made = fit(model, problem, np.ones(len(problem.glasses.wt), dtype=bool))
    kinds = {"near": near_folds(problem), "far": far_folds(model, problem)}
    if (problem.sources != "").any():
        kinds["source"] = source_folds(problem)
    rows = []
    for kind, fold in kinds.items():
        found, far = kept_from(model, problem, fold)
        rows += [[model["key"], kind, i, f"{far[i]:.4f}", *(f"{v:.2f}" for v in found[:, i])] for i in range(len(fold))]
    return made, rows


def learn_property(spec: dict) -> dict:
    """The finished file of data/properties/, with its count on glasses that were kept from it under "counted"."""
    problem = plain_problem(spec)
    made = fit(spec, problem, np.ones(len(problem.value), dtype=bool))
    ((quantity, answer),) = spec["answers"].items()
    sides = {}
    for side, fold in (("inside", near_folds(problem)), ("outside", far_folds(spec, problem))):
        found, far = kept_from(spec, problem, fold)
        inside = first_passed(spec, problem.glasses, "bounds", far) == -1
        reached = first_passed(spec, problem.glasses, "reach", far) == -1
        sides[side] = (found[0] - problem.value, inside if side == "inside" else ~inside & reached)
    decimals = property_accuracy.DECIMALS[quantity]
    counted = {
        family: {side: property_accuracy.count(e[where & members], decimals) for side, (e, where) in sides.items() if (where & members).any()}
        for family, members in accuracy.families_of(problem.glasses).items()
    }
    return {**made, "answers": {quantity: {**answer, "counted": counted}}}


def specs(of_properties: bool = False) -> list[dict]:
    """What is to be learnt: everything of a model but its centres and outputs."""
    every = json.loads((Path(__file__).parent / "learn.json").read_text(encoding="utf-8"))
    return [spec for spec in every if ("answers" in spec) == of_properties]


def learn_properties() -> None:
    """Learn the other properties and write them."""
    for spec in specs(of_properties=True):
        (DATA / "properties" / f"{spec['key']}.json").write_text(written(learn_property(spec)), encoding="utf-8")
        print(f"learnt {spec['key']}")


def main() -> None:
    """Learn every model and write it."""
    learn_properties()
    rows = []
    for spec in specs():
        made, more = learn(spec)
        rows += more
        (DATA / "models" / f"{spec['key']}.json").write_text(written(made), encoding="utf-8")
        print(f"learnt {spec['key']}")
    with FOLDS.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, lineterminator="\n").writerows([["model", "kept", "glass", "distance", "a", "b", "c"], *rows])


def written(model: dict) -> str:
    """The file's text: long lists of numbers on one line each."""
    texts = {f"<{i}>": v for i, v in enumerate([model["centres"], *(o[k] for o in model["outputs"] for k in ("terms", "bells"))])}
    marks = iter(texts)
    light = {**model, "centres": next(marks), "outputs": [{k: next(marks) for k in ("terms", "bells")} for _ in model["outputs"]]}
    text = json.dumps(light, indent=1, ensure_ascii=False)
    for mark, numbers in texts.items():
        text = text.replace(f'"{mark}"', json.dumps(numbers, separators=(",", ":")))
    return text + "\n"


if __name__ == "__main__":
    main()
