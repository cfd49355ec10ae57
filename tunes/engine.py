"""The one door through which the site calls the harmony engine."""

from __future__ import annotations

from tunes.harmony.analysis.patterns.modes import TAG, tag_words
from tunes.harmony.analysis.patterns.patterns import WORDS
from tunes.harmony.analysis.pipeline import RULES, analyse
from tunes.harmony.analysis.version import version
from tunes.harmony.form.sections import name_form
from tunes.harmony.progressions.table import BUILT_IN
from tunes.harmony.readings.landing import landing

__all__ = ["RULES", "analyse", "landing", "name_form", "pattern_words", "version"]


def pattern_words(pattern: str) -> str:
    """A progression that a reading belongs to, in words: its degrees as players say them.

    >>> pattern_words("blues-one-four"), pattern_words("pedal")
    ('1 and 4, both at home', 'chords over a bass that stays')
    """
    if pattern.startswith(TAG):
        return tag_words(pattern)
    return WORDS[pattern] if pattern in WORDS else BUILT_IN[pattern].name
