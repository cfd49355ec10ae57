"""Spelled names for the keys of an analysis.

The tonic is spelled as the chart spells the chord on it; when the chart never does, or spells it with too many
signs for a player, the practical spelling nearest to the home key is taken.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from tunes.harmony.analysis.key_areas.cadences import KeyPc
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.pitch.spelling import Key, Mode, NoteName, sensible

SIGNATURE = 7  # signs of the longest key signature that is printed


def _mode(mode: str) -> Mode:
    return "minor" if mode == "minor" else "major"


class KeyNames:
    """Names the keys of one chart, always the same way."""

    def __init__(self, symbols: Sequence[ChordSymbol | None], home: KeyPc, given: Key | None = None) -> None:
        self._seen = _roots(symbols)
        self._names: dict[KeyPc, Key] = {}
        self._home = self._first(home, given)
        self._names[home] = self._home

    def _first(self, home: KeyPc, given: Key | None) -> Key:
        if given is not None and given.church and (given.tonic.pc, given.mode) == home:
            return given
        if given is not None and given.tonic.pc == home[0]:
            return Key(given.tonic, _mode(home[1]))
        if given is not None and given.relative.tonic.pc == home[0] and given.relative.mode == home[1]:
            return given.relative
        found = self._seen.get(home[0])
        return readable_key(Key(found or _any(home[0]), _mode(home[1])))

    def key(self, key: KeyPc) -> Key:
        """The spelled key of a tonic pitch class and mode."""
        found = self._names.get(key)
        if found is None:
            seen = self._seen.get(key[0])
            near = Key(_near(key[0], self._home.tonic.fifths), _mode(key[1]))
            found = readable_key(Key(seen, _mode(key[1])) if seen else near)
            self._names[key] = found
        return found


def readable_key(key: Key) -> Key:
    """The key itself while it has a signature (seven signs at most); else the one that sounds the same and has.

    >>> [readable_key(Key.parse(text)).text for text in ("Bbb", "F##", "C#", "Cb", "Fb minor")]
    ['A major', 'G major', 'C# major', 'Cb major', 'E minor']
    """
    return key if abs(key.fifths) <= SIGNATURE else sensible(key)


def _roots(symbols: Sequence[ChordSymbol | None]) -> dict[int, NoteName]:
    """How the chart spells each root: the commoner spelling, then the one with fewer signs."""
    count: Counter[NoteName] = Counter(symbol.root for symbol in symbols if symbol is not None)
    best: dict[int, NoteName] = {}
    for name, _ in sorted(count.items(), key=lambda pair: (-pair[1], abs(pair[0].fifths), pair[0].fifths)):
        best.setdefault(name.pc, name)
    return best


def _near(pc: int, fifths: int) -> NoteName:
    """The spelling of a pitch class nearest to a place on the line of fifths."""
    return min(
        (NoteName.from_fifths(n) for n in range(-15, 20) if (7 * n) % 12 == pc),
        key=lambda name: (abs(name.fifths - fifths + 1), name.fifths),
    )


def _any(pc: int) -> NoteName:
    return _near(pc, -1)
