"""An analysis carried to another pitch: its keys moved, and the keys that its reasons name moved with them.

Reasons are data (`tunes.harmony.readings.reason`): they call chords by degree and function, which are the same everywhere, and keys
by name. So a page in written pitch needs no second analysis, and what a person typed stays as it was typed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from tunes.harmony.analysis.pipeline import Alternative, Analysis, KeyArea, Reading
from tunes.harmony.pitch.spelling import Interval, Key

Change = Callable[[Key], Key]


def moved_analysis(analysis: Analysis, interval: Interval) -> Analysis:
    """The analysis in the pitch that lies `interval` away."""
    return analysis_with_keys(analysis, lambda key: key.transposed(interval))


def moved_reading(reading: Reading, interval: Interval) -> Reading:
    """One reading in the pitch that lies `interval` away, its alternatives too."""
    return reading_with_keys(reading, lambda key: key.transposed(interval))


def analysis_with_keys(analysis: Analysis, change: Change) -> Analysis:
    """The analysis with every key in it changed."""
    return replace(
        analysis,
        home=change(analysis.home),
        areas=tuple(_area(area, change) for area in analysis.areas),
        readings=tuple(reading_with_keys(reading, change) for reading in analysis.readings),
    )


def reading_with_keys(reading: Reading, change: Change) -> Reading:
    """One reading with every key in it changed."""
    return replace(
        reading,
        key=change(reading.key),
        local_key=change(reading.local_key),
        reason=reading.reason.with_keys(change),
        alternatives=tuple(_other(other, change) for other in reading.alternatives),
    )


def _area(area: KeyArea, change: Change) -> KeyArea:
    return replace(area, key=change(area.key), reason=area.reason.with_keys(change))


def _other(other: Alternative, change: Change) -> Alternative:
    return replace(other, key=change(other.key), reason=other.reason.with_keys(change))
