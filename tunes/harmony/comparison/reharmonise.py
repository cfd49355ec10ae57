"""What a band may play in place of what is written: one substitution at a time, by rule, each with its reason.

A rule looks at one chord where it stands and says what may sound in its time; bars and their lengths never change. The
kinds are those of `names.KINDS`, so what is made here is named by the same words when two versions are compared.

Sources: substitute dominants and related iis: Pease, *Jazz Composition* (2003) p. 53; diminished chords as rootless dominants
(X°7 is the upper four notes of the 7♭9 chord): a logical identity; the rest: common practice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from tunes.harmony.charts.bars import Event
from tunes.harmony.chords import ChordSymbol, parse_symbol
from tunes.harmony.comparison.cost import is_dominant, is_two
from tunes.harmony.comparison.names import same_chord
from tunes.harmony.pitch.spelling import NoteName, degree_interval
from tunes.harmony.readings.reading import Reading

PEASE = "Pease, Jazz Composition (2003) p. 53"
PRACTICE = "common practice, no source"
LOGICAL = "the notes are the same: a logical identity"


@dataclass(frozen=True, slots=True)
class ReharmRule:
    """One rule. `id` is its kind in `names.KINDS`; `sentence` is told with what was there (`old`), what was played (`new`),
    what follows (`goal`) and the notes that both chords hold (`shared`)."""

    id: str
    sentence: str
    source: str


_ROWS = (
    ReharmRule("tritone-substitute", "{new} for {old}: they share {shared}, and {new} falls a half step to {goal}.", PEASE),
    ReharmRule(
        "tritone-substitute-with-ii",
        "{new} for {old}: the dominant a tritone away with its own ii, a half step above {goal}.",
        PEASE,
    ),
    ReharmRule("added-related-ii", "{new} for {old}: the dominant gets its related ii before it.", PEASE),
    ReharmRule("diminished-for-dominant", "{new} for {old}: it shares {shared}, the upper notes of the dominant.", LOGICAL),
    ReharmRule("backdoor", "{new} for {old}: the flat-seven dominant rises a step to {goal}.", PRACTICE),
    ReharmRule("passing-diminished", "{new} for {old}: a diminished chord links it by step to {goal}.", PRACTICE),
    ReharmRule("added-dominant", "{new} for {old}: the dominant of {goal} comes before it.", PRACTICE),
    ReharmRule("added-substitute-dominant", "{new} for {old}: the dominant a half step above {goal} comes before it.", PEASE),
    ReharmRule("turned-minor", "{new} for {old}: the IV turns minor on its way home.", PRACTICE),
    ReharmRule("shared-tones", "{new} for {old}: they share {shared}.", PRACTICE),
    ReharmRule("suspended", "{new} for {old}: the 3rd is held back.", PRACTICE),
    ReharmRule("chromatic-approach", "{new} for {old}: the next chord's kind, a half step above {goal}.", PRACTICE),
    ReharmRule("interchange", "{new} for {old}: the IV borrowed from the minor key.", PRACTICE),
)  # fmt: skip
RULES: dict[str, ReharmRule] = {row.id: row for row in _ROWS}


@dataclass(frozen=True, slots=True)
class Substitution:
    """What may be played: for each event that is replaced its new chords, evenly spread over its time. `goal` is the event
    that follows."""

    rule: str
    replaced: tuple[tuple[int, tuple[ChordSymbol, ...]], ...]
    goal: int


@dataclass(frozen=True, slots=True)
class _Place:
    """A chord where it stands: the one before it (None at the top), the one after it, how it is heard."""

    event: Event
    now: ChordSymbol
    before: ChordSymbol | None
    after: ChordSymbol
    reading: Reading

    @property
    def falls(self) -> bool:
        """Whether a dominant falls a fifth to what follows."""
        return (
            self.now.family == "dominant" and self.now.has("b7") and (self.after.root.pc - self.now.root.pc) % 12 == 5
        )

    @property
    def halves(self) -> bool:
        """Whether the chord fills a bar that can be halved."""
        metre = self.event.metre
        return self.event.onset == 0 and self.event.duration == metre.beats and metre.beats % 2 == 0

    @property
    def up(self) -> int:
        """Semitones from its root up to the next one."""
        return (self.after.root.pc - self.now.root.pc) % 12

    @property
    def degree(self) -> str:
        return self.reading.key.degree_of(self.now.root)


def substitutions(events: Sequence[Event], readings: Sequence[Reading]) -> tuple[Substitution, ...]:
    """Everything the rules allow in one chorus, in order of place. `readings` belong to the events one for one.

    Chords over a bass of their own stay as they are: the bass was meant. So does the last chord, which leads nowhere here.
    """
    found: list[Substitution] = []
    for index in range(len(events) - 1):
        place = _place(events, readings, index)
        if place is None:
            continue
        for rule, makes in _RULES:
            for chords in makes(place):
                found += _made(rule, events, index, chords)
    return tuple(found)


def _place(events: Sequence[Event], readings: Sequence[Reading], index: int) -> _Place | None:
    now, after = events[index].symbol, events[index + 1].symbol
    if now is None or after is None or now.bass is not None:
        return None
    before = events[index - 1].symbol if index else None
    return _Place(events[index], now, before, after, readings[index])


def _made(rule: str, events: Sequence[Event], index: int, chords: tuple[ChordSymbol, ...]) -> Iterator[Substitution]:
    now, before = events[index].symbol, events[index - 1].symbol if index else None
    replaced = [(index, chords)]
    if rule == "backdoor" and before is not None and now is not None and is_two(before, now) and before.bass is None:
        two = _chord(chords[0].tone("5"), "m7")
        replaced.insert(0, (index - 1, (two,)))
    yield Substitution(rule, tuple(replaced), index + 1)


def _chord(root: NoteName, kind: str) -> ChordSymbol:
    symbol = parse_symbol(plain_root(root).text + kind).symbol
    assert isinstance(symbol, ChordSymbol)
    return symbol


def plain_root(root: NoteName) -> NoteName:
    """A root as players write it: no double signs, no E sharp, B sharp, C flat or F flat.

    >>> [plain_root(NoteName.parse(name)).text for name in ("Fb", "Gb", "C#", "E#", "Abb")]
    ['E', 'Gb', 'C#', 'F', 'G']
    """
    if abs(root.alter) < 2 and root.text not in ("E#", "B#", "Cb", "Fb"):
        return root
    return NoteName.from_fifths((root.fifths + 5) % 12 - 5)


def _above(root: NoteName, degree: str) -> NoteName:
    return root + degree_interval(degree)


# --- a dominant that falls a fifth ---


def _tritone(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if place.falls:
        yield (_chord(_above(place.after.root, "b2"), "7"),)


def _tritone_with_two(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if place.falls and place.halves:
        five = _chord(_above(place.after.root, "b2"), "7")
        yield (_chord(five.tone("5"), "m7"), five)


def _related_two(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    prepared = place.before is not None and (is_two(place.before, place.now) or same_chord(place.before, place.now))
    if place.falls and place.halves and not prepared:
        dark = place.after.family in ("minor", "half-diminished") or place.now.has("b9")
        yield (_chord(place.now.tone("5"), "m7b5" if dark else "m7"), place.now)


def _diminished(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if place.falls:
        yield (_chord(place.now.tone("3"), "dim7"),)


def _backdoor(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    home = place.reading.key.tonic.pc == place.after.root.pc
    if place.falls and home and place.after.family == "major":
        yield (_chord(_above(place.after.root, "b7"), "7"),)


def _suspended(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if place.falls and place.halves:
        yield (_chord(place.now.root, "7sus4"),)


# --- something put before the next chord ---


def _passing(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if not place.halves or place.after.family != "minor":
        return
    if place.up == 2 and place.now.family == "major":
        yield place.now, _chord(_above(place.now.root, "#1"), "dim7")
    elif place.up == 10 and place.now.family == "minor":
        yield place.now, _chord(_above(place.after.root, "b2"), "dim7")


def _leads(place: _Place) -> bool:
    """Whether a dominant may be put between a chord and the next: one that moves on to a chord at rest or a ii."""
    quiet = place.now.family in ("major", "minor") and place.after.family in ("major", "minor")
    return quiet and place.halves and place.up not in (0, 5)


def _dominant(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if _leads(place) and place.up != 10:
        yield place.now, _chord(place.after.tone("5"), "7")


def _substitute(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if _leads(place) and place.up != 11:
        yield place.now, _chord(_above(place.after.root, "b2"), "7")


def _chromatic(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if place.halves and place.up == 10 and place.now.family == place.after.family == "minor":
        yield place.now, _chord(_above(place.after.root, "b2"), "m7")


# --- a chord that stands for another ---


def _turned(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    if place.halves and place.degree == "4" and place.now.family == "major" and place.up in (7, 11):
        yield place.now, _chord(place.now.root, "m6")


def _interchange(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    goes_home = place.up == 7 or is_dominant(place.after)
    if place.degree == "4" and place.now.family == "major" and goes_home:
        yield (_chord(place.now.root, "m6"),)


def _shared(place: _Place) -> Iterator[tuple[ChordSymbol, ...]]:
    """The iii for the I, and the flat III for the I of a minor key."""
    arrives = place.before is not None and not same_chord(place.before, place.now)
    if place.degree != "1" or not arrives or place.up in (0, 3, 4):
        return
    if place.now.family == "major" and place.now.has("7"):
        yield (_chord(place.now.tone("3"), "m7"),)
    elif place.now.family == "minor" and place.now.has("b3", "b7"):
        yield (_chord(place.now.tone("b3"), "maj7"),)


_RULES: tuple[tuple[str, Callable[[_Place], Iterator[tuple[ChordSymbol, ...]]]], ...] = (
    ("tritone-substitute", _tritone),
    ("tritone-substitute-with-ii", _tritone_with_two),
    ("added-related-ii", _related_two),
    ("diminished-for-dominant", _diminished),
    ("backdoor", _backdoor),
    ("passing-diminished", _passing),
    ("added-dominant", _dominant),
    ("added-substitute-dominant", _substitute),
    ("turned-minor", _turned),
    ("shared-tones", _shared),
    ("suspended", _suspended),
    ("chromatic-approach", _chromatic),
    ("interchange", _interchange),
)
