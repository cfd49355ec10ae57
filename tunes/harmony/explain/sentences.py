"""Reasons: the rule's sentence, filled in with what the chord, its goal and its key are called."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import NamedTuple

from tunes.harmony.explain.rules import RULES

TELLS_NEXT = frozenset(rule for rule, told in RULES.items() if "{next}" in told.sentence)
"""Rules whose reason speaks of the chord that follows."""


class Words(NamedTuple):
    """What a sentence may name besides the chord and the key, as players say it; "" where there is nothing to say."""

    target: str = ""
    aim: str = ""
    following: str = ""
    mode: str = ""
    witnesses: str = ""
    itself: str = ""  # what the goal is called in its turn
    between: str = ""  # what stands before the goal, with a comma before it


_NOTHING = Words()


_MAJOR_WORDS = ("major", "lydian", "mixolydian")


@lru_cache(maxsize=16384)
def reason(rule: str, chord: str, key: str, said: Words = _NOTHING) -> str:
    """One plain sentence for a reading; `chord` and the words are functions as players say them.

    >>> reason("dominant", "5", "C major", Words("1"))
    '5 falls a fifth to 1.'
    >>> reason("applied", "5 of 5", "C major", Words("5", between=", with 2 between"))
    '5 of 5 falls a fifth to 5, with 2 between.'
    """
    words: Mapping[str, str] = {
        "chord": chord, "key": key, "target": said.target or "the next chord", "aim": said.aim or said.target or "its goal",
        "next": said.following or said.target or "the next chord",
        "parallel": said.mode or ("minor" if key.endswith(_MAJOR_WORDS) else "major"),
        "ahead": f"ahead{said.between}" if said.between else "that follows",
        "witnesses": said.witnesses or "The chords speak", "between": said.between,
        "itself": f", itself {said.itself}" if said.itself else "", "again": f" as {said.itself}" if said.itself else "",
    }  # fmt: skip
    sentence = RULES[rule].sentence.format_map(words).replace(",.", ".")
    return sentence[0].upper() + sentence[1:]
