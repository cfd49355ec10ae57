"""Reasons: the rule's sentence, filled in with what the chord, its goal and its key are called."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from .rules import RULES

TELLS_NEXT = frozenset(rule for rule, told in RULES.items() if "{next}" in told.sentence)
"""Rules whose reason speaks of the chord that follows."""


@lru_cache(maxsize=16384)
def reason(
    rule: str, chord: str, key: str, target: str = "", aim: str = "", following: str = "", mode: str = "",
    witnesses: str = "",
) -> str:
    """One plain sentence for a reading; `chord` and `target` are functions as players say them.

    >>> reason("dominant", "5", "C major", "1")
    '5 falls a fifth to 1.'
    """
    words: Mapping[str, str] = {
        "chord": chord, "key": key, "target": target or "the next chord", "aim": aim or target or "its goal",
        "next": following or target or "the next chord", "parallel": mode or ("major" if key.endswith("minor") else "minor"),
        "witnesses": witnesses or "The chords speak",
    }  # fmt: skip
    sentence = RULES[rule].sentence.format_map(words)
    return sentence[0].upper() + sentence[1:]
