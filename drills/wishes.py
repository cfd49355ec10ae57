"""What somebody asks to see: a recipe, an instrument, the keys and how the page is set. Goes to and from a query."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any
from urllib.parse import urlencode

from drills.lines.build import PIANO, Recipe
from drills.lines.keys import ORDERS
from studio.instruments import CONCERT, INSTRUMENTS, Instrument


@dataclass(frozen=True)
class Wish:
    """One drill page.

    instrument   key of INSTRUMENTS; written: in its written pitch (else concert).
    order, seed  one key or twelve, see `drills.lines.keys`; at: which of them is shown, from 0.
    functions    function names below the chords; per_system: bars to a line, 4 or 2.
    """

    recipe: Recipe = field(default_factory=Recipe)
    instrument: str = CONCERT.key
    written: bool = True
    order: str = "one"
    seed: int = 1
    at: int = 0
    functions: bool = False
    per_system: int = 4

    @property
    def player(self) -> Instrument:
        """Who plays: the piano in concert pitch for the changes at the piano, whatever one plays otherwise."""
        return CONCERT if self.recipe.kind == PIANO else INSTRUMENTS.get(self.instrument, CONCERT)

    @property
    def pitch_label(self) -> str:
        """How the page is labelled."""
        if not self.written or self.player.transposition == "P1":
            return "concert pitch"
        name = self.player.name
        return f"written for {name[0].lower()}{name[1:]}"

    def query(self, **changes: Any) -> str:
        """The wish as the query of an address."""
        data = asdict(self) | changes
        recipe = data.pop("recipe")
        events = recipe.pop("events")
        if events:
            recipe["events"] = f"{events[0]}-{events[1]}"
        return urlencode({name: _plain(value) for name, value in {**recipe, **data}.items() if value not in ("", None)})

    def mark(self, *also: Any) -> str:
        """A digest of the content that this wish leads to."""
        text = json.dumps([asdict(self), also], sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()

    @classmethod
    def from_query(cls, data: Mapping[str, str], *, instrument: str = "") -> Wish:
        """A wish from a query; what is missing or unknown takes its default. `instrument` is the player's own."""
        recipe = dict(data)
        events = str(recipe.pop("events", "")).split("-")
        if len(events) == 2 and all(part.isdigit() for part in events):
            recipe["events"] = tuple(events)  # type: ignore[assignment]
        recipe["ninth"] = str(data.get("ninth", "")) in _TRUE  # type: ignore[assignment]
        chosen = str(data.get("instrument") or instrument)
        order = str(data.get("order", "one"))
        return cls(
            recipe=Recipe.from_json(recipe),
            instrument=chosen if chosen in INSTRUMENTS else CONCERT.key,
            written=str(data.get("written", "1")) in _TRUE,
            order=order if order in ORDERS else "one",
            seed=_number(data.get("seed"), 1, 9999),
            at=_number(data.get("at"), 0, 11),
            functions=str(data.get("functions", "")) in _TRUE,
            per_system=2 if str(data.get("per_system")) == "2" else 4,
        )


_TRUE = {"1", "on", "true", "True", "yes"}


def _plain(value: Any) -> str:
    return ("1" if value else "0") if isinstance(value, bool) else str(value)


def _number(value: Any, low: int, high: int) -> int:
    try:
        return min(max(int(value), low), high)
    except (TypeError, ValueError):
        return low
