"""A moved study under the key names that players use.

A key area a minor third above home is A flat in F and would be B double flat in G flat. No such signature is
printed: players read A major there, and its chords spelled in it (common practice, no source). Only what is shown is
respelled; quiz keys and stored analyses keep the spelling that they were moved to, so that answers stay comparable.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

from tunes.harmony.analysis.key_areas.names import readable_key
from tunes.harmony.charts import Chart
from tunes.harmony.pitch.spelling import Interval, Key
from tunes.moving import analysis_with_keys, reading_with_keys
from tunes.study import StudyChart


def readable_study(study: StudyChart) -> StudyChart:
    """The same study with every key that has no signature called by the one that sounds the same and has one; the chords
    that are read in it are spelled with it. The study itself where there is none."""
    if all(readable_key(key) == key for key in _keys(study)):
        return study
    return replace(
        study,
        chart=_respelled(study),
        computed=analysis_with_keys(study.computed, readable_key),
        analysis=analysis_with_keys(study.analysis, readable_key),
        overridden={
            event: replace(label, key=readable_key(label.key), computed=reading_with_keys(label.computed, readable_key))
            for event, label in study.overridden.items()
        },
        overridden_areas=tuple(replace(area, key=readable_key(area.key)) for area in study.overridden_areas),
    )


def _keys(study: StudyChart) -> Iterator[Key]:
    for analysis in (study.analysis, study.computed):
        yield from (area.key for area in analysis.areas)
        for reading in analysis.readings:
            yield reading.key
            yield reading.local_key
            yield from (other.key for other in reading.alternatives)


def _respelled(study: StudyChart) -> Chart:
    """The chart with the chords of such a key turned as its name is turned: by a diminished second."""
    turned: dict[tuple[int, int], Interval] = {}
    for event, reading in zip(study.events, study.analysis.readings, strict=False):
        change = readable_key(reading.key).tonic.fifths - reading.key.tonic.fifths
        if change and event.symbol is not None:
            turned.setdefault((event.bar, event.slot), Interval(-change // 12, 0))

    def slot(bar: int, place: int, found: Any) -> Any:
        if found.symbol is None or (bar, place) not in turned:
            return found
        symbol = found.symbol.transposed(turned[bar, place])
        return replace(found, symbol=symbol, text=found.text if found.is_held else symbol.text)

    return replace(
        study.chart,
        bars=tuple(
            replace(bar, slots=tuple(slot(at, place, found) for place, found in enumerate(bar.slots)))
            for at, bar in enumerate(study.chart.bars)
        ),
    )
