"""The card for the jam session: the chords of every section once, and what other versions play instead. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from tunes.engine import name_form
from tunes.harmony.charts import Chart
from tunes.versions.folding import Block, Said, folded, many
from tunes.versions.instead import Instead, instead
from tunes.versions.sides import side_by_side


@dataclass(frozen=True)
class Card:
    """`blocks` in the order of the form; `variants` version by version."""

    blocks: tuple[Block, ...]
    variants: tuple[Instead, ...]

    @property
    def dense(self) -> bool:
        """Whether it has to be set smaller to stay on one sheet."""
        return many(self.blocks)


def card_of(chart: Chart, others: Sequence[tuple[str, Chart]] = ()) -> Card:
    """The card of a chart; others are named versions, brought into its key."""
    said: list[list[Said]] = [[] for _ in chart.unfold()]
    for event in chart.events():
        if event.text == "/" and event.symbol is None:
            continue
        one = Said(shown=event.symbol) if event.symbol else Said(before="?" if event.text == "?" else "N.C.")
        here = said[event.chorus_bar]
        if not here or here[-1] != one:
            here.append(one)
    table = side_by_side(chart, [other for _name, other in others])
    return Card(
        folded(chart, name_form(chart).sections, [tuple(bar) for bar in said]),
        instead(table, [name for name, _other in others], lambda played, _beside: Said(shown=played.symbol)),
    )
