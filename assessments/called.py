"""In which key a tune is called: pure. Keys are concert keys unless a name says otherwise.

A key that has not gone well yet comes before one that has (all twelve are wanted; common practice, no source), and the
home key is one of the twelve. Which of those it is is drawn, so that nobody can learn the order of the calls.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import replace

from tunes.harmony.pitch.spelling import MAJOR_KEYS, MINOR_KEYS, Interval, Key, SpellingError, sensible, transposition


def twelve(home: Key) -> tuple[Key, ...]:
    """The twelve keys in which a tune can be called, in its own mode, from C upwards.

    >>> [key.tonic.text for key in twelve(Key.parse("F"))]
    ['C', 'Db', 'D', 'Eb', 'E', 'F', 'Gb', 'G', 'Ab', 'A', 'Bb', 'B']
    """
    keys = MINOR_KEYS if home.mode == "minor" else MAJOR_KEYS
    return tuple(sensible(replace(home, tonic=key.tonic)) for key in sorted(keys, key=lambda key: key.tonic.pc))


def done_of(home: Key, done: Iterable[str]) -> tuple[bool, ...]:
    """For each of the twelve, whether it stands in `done` (tonics or keys as text)."""
    pitches = set()
    for text in done:
        try:
            pitches.add(Key.parse(text).tonic.pc)
        except SpellingError:
            continue
    return tuple(key.tonic.pc in pitches for key in twelve(home))


def next_key(home: Key, done: Iterable[str], seed: int) -> Key:
    """The key to call next: one that has not gone well yet; any of the twelve when all have."""
    keys = twelve(home)
    left = [key for key, gone in zip(keys, done_of(home, done), strict=True) if not gone]
    return random.Random(seed).choice(left or keys)


def key_called(home: Key, text: str) -> Key | None:
    """The key that somebody named, in the mode of the tune; None for none, or one that cannot be read."""
    try:
        return sensible(replace(home, tonic=Key.parse(text).tonic)) if text else None
    except SpellingError:
        return None


def interval_to(home: Key, called: Key, instrument: Interval) -> Interval:
    """From the concert chart in its own key to what is written down when the tune is called in another one.

    >>> interval_to(Key.parse("F"), Key.parse("Ab"), Interval.parse("M2")).name  # read as B flat by a trumpet
    'P4'
    """
    return transposition(home, sensible(called.transposed(instrument)))


def called_in(home: str, written: str, instrument: Interval) -> Key | None:
    """The concert key in which something was asked, from the interval to what the player reads; None without a home key.

    >>> called_in("F major", "P4", Interval.parse("M2")).text
    'Ab major'
    """
    try:
        return sensible(Key.parse(home).transposed(Interval.parse(written)).transposed(-instrument))
    except SpellingError:
        return None
