"""Models learnt from open measurements: a polynomial in composition plus a weighted sum of Gaussian bells at chosen centres.

Each has a distance to the measured glasses, by which it knows its own domain. Plain coefficients; the page has the same functions.
"""

import numpy as np

from server.physics.basis import basis_amounts
from server.physics.bounds import Glasses


def coordinates(model: dict, glasses: Glasses) -> np.ndarray:
    """Amounts of the model's coordinates in its own basis, in mol%, shape (n, coordinates)."""
    x = basis_amounts(model, glasses)
    return np.stack([x[name] for name in model["coordinates"]], axis=1)


def scaled_squares(model: dict, x: np.ndarray) -> np.ndarray:
    """Squared distance in lengths to every centre, shape (n, centres)."""
    z, c = x / _array(model, "lengths"), _array(model, "centres") / _array(model, "lengths")
    return np.maximum((z**2).sum(axis=1)[:, None] - 2.0 * z @ c.T + (c**2).sum(axis=1), 0.0)


def polynomial_terms(model: dict, x: np.ndarray) -> np.ndarray:
    """Products of shifted, scaled coordinates, shape (n, terms)."""
    z = (x - _array(model, "middle")) / model["scale"]
    return np.stack([np.prod(z[:, term], axis=1) for term in model["polynomial"]], axis=1)


def outputs(model: dict, glasses: Glasses) -> tuple[np.ndarray, np.ndarray]:
    """(the learnt quantities (outputs, n), distance to the nearest centre in the model's lengths (n,)).

    NaN where the glass has none of the model's oxides.
    """
    x = coordinates(model, glasses)
    squares = scaled_squares(model, x)
    bells, terms = np.exp(-0.5 * squares), polynomial_terms(model, x)
    found = [terms @ np.array(o["terms"]) + bells @ np.array(o["bells"]) for o in model["outputs"]]
    return np.array(found), np.sqrt(squares.min(axis=1))


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
    coldest, to_middle, to_hottest = found
    sound = (to_middle > 0) & (to_hottest > 0)
    own = (coldest + to_middle + to_hottest, coldest + to_middle, coldest)
    rows = []
    for level in levels:
        value = sum(w * t for w, t in zip(isokom_weights(model, level), own, strict=True))
        rows.append(np.where(sound, value, np.nan))
    return np.array(rows)


def _array(model: dict, name: str) -> np.ndarray:
    return np.asarray(model[name], dtype=float)
