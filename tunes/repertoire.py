"""Idioms across the repertoire: how often each occurs, and where."""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tunes.harmony.spelling import Key
from tunes.harmony.symbols import ChordSymbol
from tunes.models import ChartRevision, Idiom, Tune


@dataclass(frozen=True)
class Total:
    """How often an idiom occurs. `problem` when its pattern cannot be read."""

    idiom: Idiom
    places: int
    tunes: int
    problem: str = ""


@dataclass(frozen=True)
class Occurrence:
    """One place where an idiom occurs; bars as printed."""

    tune: Tune
    version_id: int
    number: int
    section: str
    first_bar: int
    last_bar: int
    bar_index: int
    key: Key
    symbols: tuple[ChordSymbol | None, ...]


def totals(idioms: Sequence[Idiom], revisions: Sequence[ChartRevision]) -> list[Total]:
    return [Total(idiom, 0, 0) for idiom in idioms]


def occurrences(idiom: Idiom, revisions: Sequence[ChartRevision]) -> list[Occurrence]:
    return []
