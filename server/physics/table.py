"""The one loader: model, family, rule and accuracy data from data/*.json, read once."""

import json
from functools import cache
from pathlib import Path

DATA = Path(__file__).with_name("data")


@cache
def table(name: str) -> dict:
    """The content of data/<name>.json."""
    return json.loads((DATA / f"{name}.json").read_text(encoding="utf-8"))


@cache
def models() -> tuple[dict, ...]:
    """Every model file, sorted by key: a model is one file here plus its test row."""
    return tuple(json.loads(path.read_text(encoding="utf-8")) for path in sorted((DATA / "models").glob("*.json")))


@cache
def models_of(quantity: str) -> tuple[dict, ...]:
    """The models that answer for a quantity ('viscosity' or 'expansion')."""
    return tuple(model for model in models() if model["quantity"] == quantity)


@cache
def bundle() -> dict:
    """Everything the page's own evaluator reads: the same files, in one object."""
    names = ("oxides", "families", "rules", "accuracy", "sentences", "analysis")
    return {"models": list(models()), **{name: table(name) for name in names}}


@cache
def property_models() -> tuple[dict, ...]:
    """Every file of data/properties/, sorted by key: models of density, stiffness and the like. They stay on the server."""
    return tuple(json.loads(path.read_text(encoding="utf-8")) for path in sorted((DATA / "properties").glob("*.json")))
