"""How often the twelve notes come over each kind of chord in recorded solos: shares, with their provenance.

The table is `models/degrees.json`; its header says where the figures are from. A kind is a class of chord
(`tones.ChordClass`) and, for dominants, where it goes: "to major", "to minor", "to dominant", "to another" a fifth
down, or "elsewhere".
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path

from .notes import Change
from .tones import tones_of

Kind = tuple[str, str]
MODEL = Path(__file__).with_name("models") / "degrees.json"
DOMINANTS = frozenset({"dominant", "dominant ♯5", "suspended"})
_MAJOR = frozenset({"major", "major 6", "major 7"})
_MINOR = frozenset({"minor", "minor 6", "minor 7", "minor major 7", "half-diminished"})
_FEWEST = 200
"""Notes below which a kind is no better than its class alone."""


def kind_of(change: Change, following: Change | None) -> Kind:
    """Class and destination of a chord; the analysis is asked before the next chord."""
    if change.symbol is None:
        return "", ""
    tones = tones_of(change.symbol)
    if tones.cls not in DOMINANTS:
        return tones.cls, ""
    if change.aim is not None:
        root, minor = change.aim
        down = (root - tones.root) % 12 == 5
        return tones.cls, ("to minor" if minor else "to major") if down else "elsewhere"
    return tones.cls, _goes(tones.root, following)


def _goes(root: int, following: Change | None) -> str:
    if following is None or following.symbol is None:
        return "elsewhere"
    goal = tones_of(following.symbol)
    if (goal.root - root) % 12 != 5:
        return "elsewhere"
    if goal.cls in _MAJOR:
        return "to major"
    return "to minor" if goal.cls in _MINOR else "to dominant" if goal.cls == "dominant" else "to another"


@lru_cache(maxsize=1)
def table() -> Mapping[Kind, tuple[float, ...]]:
    """Shares of the twelve notes, by semitones above the root, for every kind and every class alone ("", …)."""
    counts = {
        tuple(key.split("|")): row for key, row in json.loads(MODEL.read_text(encoding="utf-8"))["counts"].items()
    }
    by_class: dict[Kind, list[int]] = {}
    for (cls, _), row in counts.items():
        total = by_class.setdefault((cls, ""), [0] * 12)
        by_class[cls, ""] = [a + b for a, b in zip(total, row, strict=True)]
    all_of_them = {**by_class, **{(a, b): row for (a, b), row in counts.items() if b and sum(row) >= _FEWEST}}
    return {kind: tuple((n + 1) / (sum(row) + 12) for n in row) for kind, row in all_of_them.items()}


@lru_cache(maxsize=256)
def rates(kind: Kind) -> tuple[float, ...]:
    """Shares of the twelve notes over a kind of chord; those of its class where the kind is rare."""
    shares = table()
    return shares.get(kind) or shares.get((kind[0], "")) or (1 / 12,) * 12
