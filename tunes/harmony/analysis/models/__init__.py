"""The fitted weights, as data: `home_key.json` and `preparation.json`, each with a header that says where they are from.

A file holds ``header`` (an object: data, licence, date, command, folds, regularisation, scores) and ``weights`` (a list of
``[part of the fact, …, weight]``). They are written by `tests/bench/fit.py` and by nothing else.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NamedTuple

Fact = tuple[object, ...]
FOLDER = Path(__file__).resolve().parent
HOME_KEY, PREPARATION = "home_key", "preparation"
HEADER = ("what", "data", "licence", "date", "command", "folds", "seeds", "regularisation", "scores")
"""What every header says."""


class Model(NamedTuple):
    """Weights by fact, and the header."""

    header: dict[str, Any]
    weights: dict[Fact, float]


def load(name: str) -> Model:
    """A model by its name; KeyError when its header leaves something out.

    >>> load(HOME_KEY).weights[("major", "arrival")] > 0
    True
    """
    found = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    header = {field: found["header"][field] for field in HEADER}
    return Model(header, {tuple(fact): weight for *fact, weight in found["weights"]})


def write(name: str, header: dict[str, Any], weights: dict[Fact, float]) -> Path:
    """Write a model, one fact a line in a fixed order, so that a change in the fit is a readable difference."""
    said = json.dumps({field: header[field] for field in HEADER}, indent=2, ensure_ascii=False)
    rows = ",\n".join(json.dumps([*fact, weights[fact]], ensure_ascii=False) for fact in sorted(weights, key=repr))
    path = FOLDER / f"{name}.json"
    path.write_text(f'{{\n"header": {said},\n"weights": [\n{rows}\n]\n}}\n', encoding="utf-8")
    return path
