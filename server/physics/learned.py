"""Models learnt from open measurements: a polynomial in composition plus a weighted sum of Gaussian bells at chosen centres.

Each has a distance to the measured glasses, by which it knows its own domain. Plain coefficients; the page has the same functions.
"""

import numpy as np

from server.physics.basis import basis_amounts
from server.physics.bounds import Glasses

BLOCK = 2048  # rows at a time: small enough for the processor's own memory


def coordinates(model: dict, glasses: Glasses) -> np.ndarray:
    """Amounts of the model's coordinates in its own basis, in mol%, shape (n, coordinates)."""
    x = basis_amounts(model, glasses)
    return np.stack([x[name] for name in model["coordinates"]], axis=1)


def exponents(model: dict, x: np.ndarray) -> np.ndarray:
    """Minus half the squared distance in lengths to every centre, shape (n, centres)."""
    z, c = x / _array(model, "lengths"), _array(model, "centres") / _array(model, "lengths")
    # one product: z·c - z²/2 - c²/2
    rows = np.column_stack([z, -0.5 * (z**2).sum(axis=1), np.ones(len(z))])
    columns = np.column_stack([c, np.ones(len(c)), -0.5 * (c**2).sum(axis=1)])
    return np.minimum(rows @ columns.T, 0.0)


def polynomial_terms(model: dict, x: np.ndarray) -> np.ndarray:
    """Products of shifted, scaled coordinates, shape (n, terms)."""
    z = (x - _array(model, "middle")) / model["scale"]
    return np.stack([np.prod(z[:, term], axis=1) for term in model["polynomial"]], axis=1)


def outputs(model: dict, glasses: Glasses) -> tuple[np.ndarray, np.ndarray]:
    """(the learnt quantities (outputs, n), distance to the nearest centre in the model's lengths (n,)).

    NaN where the glass has none of the model's oxides.
    """
    x = coordinates(model, glasses)
    terms, bells = (np.array([o[part] for o in model["outputs"]]).T for part in ("terms", "bells"))
    found, nearest = polynomial_terms(model, x) @ terms, np.zeros(len(x))
    for start in range(0, len(x), BLOCK):
        here = slice(start, start + BLOCK)
        powers = exponents(model, x[here])
        nearest[here] = powers.max(axis=1)
        found[here] += np.exp(powers) @ bells
    return found.T, np.sqrt(-2.0 * nearest)


def slopes(model: dict, x: np.ndarray) -> np.ndarray:
    """How fast the learnt quantities change with each coordinate x (n, coordinates), per mol%: shape (outputs, coordinates, n)."""
    terms, bells = (np.array([o[part] for o in model["outputs"]]).T for part in ("terms", "bells"))
    centres, lengths = _array(model, "centres"), _array(model, "lengths")
    pulls = (bells[:, None, :] * np.column_stack([np.ones(len(centres)), centres])[:, :, None]).reshape(len(centres), -1)
    found = np.zeros((len(x), x.shape[1], bells.shape[1]))
    for start in range(0, len(x), BLOCK):
        here = slice(start, start + BLOCK)
        summed = (np.exp(exponents(model, x[here])) @ pulls).reshape(-1, 1 + x.shape[1], bells.shape[1])
        found[here] = (summed[:, 1:] - x[here][:, :, None] * summed[:, :1]) / (lengths**2)[:, None]
    for j in range(x.shape[1]):
        found[:, j] += _polynomial_slope(model, x, j) @ terms
    return found.transpose(2, 1, 0)


def _polynomial_slope(model: dict, x: np.ndarray, j: int) -> np.ndarray:
    """Derivative of every polynomial term by coordinate j, shape (n, terms)."""
    z = (x - _array(model, "middle")) / model["scale"]
    columns = []
    for term in model["polynomial"]:
        without = [term[:k] + term[k + 1 :] for k, factor in enumerate(term) if factor == j]
        columns.append(sum((np.prod(z[:, rest], axis=1) for rest in without), np.zeros(len(z))) / model["scale"])
    return np.stack(columns, axis=1)


def isokom_weights(model: dict, level: float) -> list[float]:
    """What each of the model's own isokoms adds to the one at `level`: quadratic in 1/(level - a)."""
    u = 1.0 / (level - model["interpolation_a"])
    own = [1.0 / (x - model["interpolation_a"]) for x in model["levels"]]
    weights = []
    for j, here in enumerate(own):
        others = [x for k, x in enumerate(own) if k != j]
        weights.append((u - others[0]) * (u - others[1]) / ((here - others[0]) * (here - others[1])))
    return weights


def isokoms_of(model: dict, found: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    """Isokoms in °C, shape (levels, n): the coldest is learnt, the others as steps above it, which must be steps upwards."""
    _coldest, to_middle, to_hottest = found
    return np.where((to_middle > 0) & (to_hottest > 0), isokom_shifts(model, found, levels), np.nan)


def isokom_shifts(model: dict, found: np.ndarray, levels: tuple[float, ...]) -> np.ndarray:
    """What the learnt quantities, or changes of them (3, n), make of the isokoms in K, shape (levels, n): they are linear in them."""
    coldest, to_middle, to_hottest = found
    own = (coldest + to_middle + to_hottest, coldest + to_middle, coldest)
    return np.array([sum(w * t for w, t in zip(isokom_weights(model, level), own, strict=True)) for level in levels])


def _array(model: dict, name: str) -> np.ndarray:
    return np.asarray(model[name], dtype=float)
