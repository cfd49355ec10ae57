"""An analysis carried to another pitch: keys moved, and the keys that its sentences name moved with them.

The sentences of `tunes.harmony.explain.rules` call chords by their function, which is the same everywhere, and keys by name.
So a page in written pitch needs no second analysis: every key in a sentence is moved as the notes are. What a
person typed is left as it was typed.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import replace

from tunes.harmony.analysis.pipeline import Analysis, Reading
from tunes.harmony.pitch.spelling import KEY_WORDS, Interval, Key

KEY_NAME = re.compile(r"(?<![A-Za-z])[A-G](?:bb|##|b|#)? (?:" + KEY_WORDS + r")(?![a-z])")


def moved_words(text: str, interval: Interval) -> str:
    """A sentence with every key it names moved.

    >>> from tunes.harmony.pitch.spelling import NoteName
    >>> up = NoteName.parse("Bb").interval_to(NoteName.parse("C"))
    >>> moved_words("1 is home: Bb major rests here, not G minor.", up)
    '1 is home: C major rests here, not A minor.'
    """
    return KEY_NAME.sub(lambda found: Key.parse(found[0]).transposed(interval).text, text)


def moved_analysis(analysis: Analysis, interval: Interval, own_words: Collection[int] = ()) -> Analysis:
    """The analysis in the pitch that lies `interval` away. `own_words`: events whose reason a person gave."""
    return replace(
        analysis,
        home=analysis.home.transposed(interval),
        areas=tuple(
            replace(area, key=area.key.transposed(interval), reason=moved_words(area.reason, interval))
            for area in analysis.areas
        ),
        readings=tuple(
            moved_reading(reading, interval, own_words=reading.event in own_words) for reading in analysis.readings
        ),
    )


def moved_reading(reading: Reading, interval: Interval, *, own_words: bool = False) -> Reading:
    """One reading in the pitch that lies `interval` away, its alternatives too."""
    return replace(
        reading,
        key=reading.key.transposed(interval),
        local_key=reading.local_key.transposed(interval),
        reason=reading.reason if own_words else moved_words(reading.reason, interval),
        alternatives=tuple(
            replace(other, key=other.key.transposed(interval), reason=moved_words(other.reason, interval))
            for other in reading.alternatives
        ),
    )
