"""The changes at the piano: shells for the left hand, small voicings for two, led so that little moves. Pure.

Shells: the root (the chart's own bass) and one guide tone. Two hands: root and one guide tone left; the other guide tone, a tension
and one note more right. Guide tones are those of `guide_tones`: the 6th stands for the 7th on sixth chords, the 4th for the 3rd on
suspended ones; a triad has its 5th for the 7th. All of it common practice, no single source.

Both are found by dynamic programming: of all playable grips of every chord the way through them that costs least, where
`cost` counts the semitones that the notes above the bass move, a little for the bass, and a little for leaving the middle of the
keyboard. Playable: inside the range, no interval below its low limit (`LIMITS`), no hand wider than it reaches.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from tunes.harmony.chords import ChordSymbol
from tunes.harmony.pitch.spelling import NoteName, Pitch

from .guide_tones import Tone, seventh_of, third_of
from .line import LineChord, LineNote, Remark
from .passage import Passage

STYLES = ("shells", "hands")
# Lowest note under which an interval (in semitones) turns to mud. After the low interval limits of arranging books (Pease and
# Pullig, Modern Jazz Voicings, 2001; from memory); intervals from an octave on have none here.
LIMITS: dict[int, Pitch] = {
    steps: Pitch.parse(low)
    for steps, low in (
        (1, "E3"), (2, "Eb3"), (3, "C3"), (4, "Bb2"), (5, "Bb2"), (6, "B2"), (7, "Bb1"), (8, "F2"), (9, "F2"), (10, "F2"), (11, "F2"),
    )
}  # fmt: skip
# Where each hand plays, and how far it reaches (common practice, no source): an octave easily, a tenth where a hand is large.
BASS = (Pitch.parse("C2").midi, Pitch.parse("E3").midi)
LEFT_TOP = Pitch.parse("F4").midi
RIGHT = (Pitch.parse("E3").midi, Pitch.parse("C5").midi)
MIDDLE_LEFT, MIDDLE_RIGHT = Pitch.parse("Bb2").midi, Pitch.parse("Ab3").midi + 4
EASY, TENTH = 12, 16
BASS_WEIGHT, DRIFT_WEIGHT, TENTH_COST = 0.25, 0.3, 5.0
SECOND_COLOURS = ("#11", "13", "b13", "#5", "5", "b5", "6")


@dataclass(frozen=True, slots=True)
class Grip:
    """One chord as it lies under the hands: `left` and `right` low to high, the bass first; right is empty for shells."""

    left: tuple[Pitch, ...]
    right: tuple[Pitch, ...] = ()

    @property
    def upper(self) -> tuple[Pitch, ...]:
        """Everything above the bass."""
        return (*self.left[1:], *self.right)


def partners(symbol: ChordSymbol) -> tuple[Tone, ...]:
    """What may stand on the bass in a shell: 3rd and 7th, or what stands for them; never the bass note itself again.

    >>> from tunes.harmony.chords import parse_symbol
    >>> [[tone.degree for tone in partners(parse_symbol(text).symbol)] for text in ("Dm7", "G7sus4", "C6", "F", "Bdim7", "C7/E")]
    [['b3', 'b7'], ['4', 'b7'], ['3', '6'], ['3', '5'], ['b3', 'bb7'], ['b7', '1']]
    """
    fifth = next((Tone(degree, symbol.tone(degree)) for degree in ("5", "b5", "#5") if degree in symbol.degrees), None)
    found = [tone for tone in (third_of(symbol), seventh_of(symbol) or fifth) if tone]
    bass = symbol.bass or symbol.root
    kept = [tone for tone in found if tone.name.pc != bass.pc]
    if bass.pc != symbol.root.pc and len(kept) < len(found):
        kept.append(Tone("1", symbol.root))
    return tuple(kept) or (Tone("1", symbol.root),)


def colours(symbol: ChordSymbol, ninth: NoteName | None) -> tuple[NoteName, ...]:
    """What two hands hold above the bass: guide tones, a 9th that suits the chord in its place, one colour more.

    A diminished seventh has all its tones, a triad its own.
    """
    if symbol.family == "diminished" or seventh_of(symbol) is None:
        return _distinct(symbol.tones)
    degrees = dict(zip(symbol.degrees, symbol.tones, strict=True))
    names = [tone.name for tone in (third_of(symbol), seventh_of(symbol)) if tone]
    written = next((degrees[degree] for degree in ("b9", "9", "#9") if degree in degrees), None)
    flat_five = "b5" in degrees and "5" not in degrees and symbol.family != "dominant"
    if written or (ninth and not flat_five):
        names.append(written or ninth)  # type: ignore[arg-type]
    elif flat_five:
        names.append(symbol.root)
    names += [degrees[degree] for degree in SECOND_COLOURS if degree in degrees][:1]
    return _distinct(names)


def _distinct(names: Sequence[NoteName]) -> tuple[NoteName, ...]:
    kept: dict[int, NoteName] = {}
    for name in names:
        kept.setdefault(name.pc, name)
    return tuple(kept.values())


# --- grips


@lru_cache(maxsize=2048)
def grips(symbol: ChordSymbol, style: str, ninth: NoteName | None = None) -> tuple[Grip, ...]:
    """Every playable grip of a chord; those that only break a low interval limit where nothing else is left."""
    found = tuple(_all_grips(symbol, style, ninth))
    clear = tuple(grip for grip in found if not muddy(grip))
    return clear or found


def _all_grips(symbol: ChordSymbol, style: str, ninth: NoteName | None) -> Iterator[Grip]:
    names = colours(symbol, ninth)
    for bass in _pitches(symbol.bass or symbol.root, *BASS):
        for tone in partners(symbol):
            for upper in _pitches(tone.name, bass.midi + 1, min(LEFT_TOP, bass.midi + TENTH)):
                if style == "shells":
                    yield Grip((bass, upper))
                    continue
                rest = [name for name in names if name.pc not in (tone.name.pc, bass.name.pc)]
                for right in _rights(tuple(rest or names)):
                    if right[0].midi > upper.midi:
                        yield Grip((bass, upper), right)


@lru_cache(maxsize=2048)
def _rights(names: tuple[NoteName, ...]) -> tuple[tuple[Pitch, ...], ...]:
    """Close positions in the range of the right hand."""
    found = []
    order = sorted(names, key=lambda name: name.pc)
    for turn in range(len(order)):
        first, *rest = [*order[turn:], *order[:turn]]
        for bottom in _pitches(first, *RIGHT):
            stack = [bottom]
            for name in rest:
                above = (name.pc - stack[-1].midi) % 12 or 12
                stack.append(Pitch.nearest(name, stack[-1].midi + above))
            if stack[-1].midi <= RIGHT[1] and stack[-1].midi - bottom.midi <= EASY:
                found.append(tuple(stack))
    return tuple(found)


def _pitches(name: NoteName, low: int, high: int) -> list[Pitch]:
    """Every pitch of a name between two MIDI numbers."""
    first = Pitch.nearest(name, low + 6)
    found = [Pitch(name, first.octave + octave) for octave in range(-1, 4)]
    return [pitch for pitch in found if low <= pitch.midi <= high]


def muddy(grip: Grip) -> bool:
    """Whether two neighbouring notes lie below the limit of their interval."""
    notes = (*grip.left, *grip.right)
    return any((limit := LIMITS.get(b.midi - a.midi)) is not None and a.midi < limit.midi for a, b in pairwise(notes))


# --- the way through them


def move(one: Grip, other: Grip) -> float:
    """What a change costs: every note above the bass to the nearest one of the other grip, both ways, halved; the bass a little.

    >>> p = Pitch.parse
    >>> move(Grip((p("D3"), p("C4"))), Grip((p("G2"), p("B3"))))
    2.75
    """
    ours, theirs = [n.midi for n in one.upper], [n.midi for n in other.upper]
    there = sum(min(abs(a - b) for b in theirs) for a in ours)
    back = sum(min(abs(a - b) for b in ours) for a in theirs)
    return (there + back) / 2 + BASS_WEIGHT * abs(one.left[0].midi - other.left[0].midi)


def rest(grip: Grip) -> float:
    """What a grip costs by itself: away from the middle of the keyboard, and a hand that must stretch."""
    middle = MIDDLE_RIGHT if grip.right else MIDDLE_LEFT
    notes = grip.right or grip.left
    drift = abs(sum(note.midi for note in notes) / len(notes) - middle)
    stretch = TENTH_COST if grip.left[-1].midi - grip.left[0].midi > EASY else 0.0
    return DRIFT_WEIGHT * drift + stretch


def cost(path: Sequence[Grip]) -> float:
    """What a whole way costs."""
    return sum(rest(grip) for grip in path) + sum(move(a, b) for a, b in pairwise(path))


def best_path(layers: Sequence[Sequence[Grip]]) -> tuple[Grip, ...]:
    """The way that costs least, one grip of each layer (dynamic programming); the first of equals."""
    if not layers:
        return ()
    totals = [rest(grip) for grip in layers[0]]
    back: list[list[int]] = []
    for before, here in pairwise(layers):
        steps, sums = [], []
        for grip in here:
            arrive = [total + move(one, grip) for total, one in zip(totals, before, strict=True)]
            least = min(range(len(arrive)), key=arrive.__getitem__)
            steps.append(least)
            sums.append(arrive[least] + rest(grip))
        back.append(steps)
        totals = sums
    at = min(range(len(totals)), key=totals.__getitem__)
    path = [layers[-1][at]]
    for place in range(len(back) - 1, -1, -1):
        at = back[place][at]
        path.append(layers[place][at])
    return tuple(reversed(path))


# --- as a drill


def piano(
    part: Passage, style: str, ninth_of: Callable[[LineChord], NoteName | None]
) -> tuple[list[LineNote], list[Remark]]:
    """The notes of a passage, right hand as voice 1 and left hand as voice 2, and what is worth saying."""
    spans = [span for span in part.spans if span.symbol is not None]
    layers = []
    for span in spans:
        assert span.symbol is not None
        layers.append(grips(span.symbol, style, ninth_of(span.chords[0]) if style == "hands" else None))
    notes: list[LineNote] = []
    path = best_path(layers)
    for span, grip in zip(spans, path, strict=True):
        for chord in span.chords:
            for voice, hand in ((1, grip.right), (2, grip.left)):
                if hand:
                    notes.append(
                        LineNote(hand[0], chord.start, chord.duration, chord.event, voice=voice, stack=hand[1:])
                    )
    wide = [
        part.bar_number(s.start) for s, g in zip(spans, path, strict=True) if g.left[-1].midi - g.left[0].midi > EASY
    ]
    return notes, [*_tenths(wide), *_triads([span.symbol for span in spans if span.symbol])]


def _tenths(bars: Sequence[int]) -> list[Remark]:
    words = "A tenth for the left hand: break it, bass first, where your hand does not reach it."
    return [Remark(words, bar) for bar in sorted(set(bars))[:3]]


def _triads(symbols: Sequence[ChordSymbol]) -> list[Remark]:
    plain = sorted({symbol.display for symbol in symbols if seventh_of(symbol) is None})
    return [Remark(f"No 7th in {', '.join(plain[:6])}: the 5th stands beside the 3rd.")] if plain else []
