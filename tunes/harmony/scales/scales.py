"""One plain scale per chord, by what the chord does; tensions and avoid notes; overruled by what is heard.

Order of rules: what the symbol itself says, then the chord's function in its key, then its kind alone. A melody
or bass note that is not in the default scale overrules it, unless no scale fits chord and note. "Avoid" is
meant for held notes in harmony; passing use is fine (Nettles and Graf 1997).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from tunes.harmony.chords.over_bass import heard_as
from tunes.harmony.chords.symbol import ChordSymbol
from tunes.harmony.chords.vocabulary import degree_parts
from tunes.harmony.pitch.spelling import Interval, Key, NoteName, degree_interval
from tunes.harmony.readings.function import Function
from tunes.harmony.readings.reading import Reading
from tunes.harmony.scales.choice import Picked, default_scale, modal_scale
from tunes.harmony.scales.tables import BLUES_SCALE, RULES, SCALES, Scale


@dataclass(frozen=True, slots=True)
class ScaleChoice:
    """A scale for one chord.

    root        the chord's root, concert unless the chord was transposed.
    scale       id in `scale_tables.SCALES`; name for a page.
    notes       spelled, from the root up.
    tensions    degrees to colour the chord with ("9", "#11"); optional ones too.
    avoid       degrees of the scale that are avoided as held notes.
    reason      one sentence; rule is the id in `scale_tables.RULES`, source where it is from.
    overridden  a melody or bass note overruled the default, which is `instead_of`.
    also        a second scale that players use here ("dorian", "locrian-9", "blues"), or "".
    """

    root: NoteName
    scale: str
    notes: tuple[NoteName, ...]
    tensions: tuple[str, ...]
    avoid: tuple[str, ...]
    reason: str
    rule: str
    overridden: bool = False
    instead_of: str = ""
    also: str = ""

    @property
    def name(self) -> str:
        return SCALES[self.scale].name

    @property
    def also_name(self) -> str:
        """The second scale as a page names it; "" for none. The tensions are those of the first."""
        return "" if not self.also else BLUES_SCALE.name if self.also == "blues" else SCALES[self.also].name

    @property
    def source(self) -> str:
        return RULES[self.rule].source

    @property
    def tension_notes(self) -> tuple[NoteName, ...]:
        return tuple(self.root + degree_interval(degree) for degree in self.tensions)

    @property
    def avoid_notes(self) -> tuple[NoteName, ...]:
        return tuple(self.root + degree_interval(degree) for degree in self.avoid)

    def transposed(self, interval: Interval) -> ScaleChoice:
        return replace(self, root=self.root + interval, notes=tuple(note + interval for note in self.notes))


def scale_notes(root: NoteName, scale: str) -> tuple[NoteName, ...]:
    """The spelled notes of a scale by id; KeyError for an unknown one.

    >>> [note.text for note in scale_notes(NoteName("F"), "lydian-b7")]
    ['F', 'G', 'A', 'B', 'C', 'D', 'Eb']
    >>> [note.text for note in scale_notes(NoteName("C"), "whole-half")]
    ['C', 'D', 'Eb', 'F', 'Gb', 'Ab', 'A', 'B']
    """
    found = BLUES_SCALE if scale == "blues" else SCALES[scale]
    if len(found.degrees) > LETTERS:
        return _eight_notes(root, found.degrees)
    return tuple(root + degree_interval(degree) for degree in found.degrees)


LETTERS = 7


@lru_cache(maxsize=512)
def _eight_notes(root: NoteName, degrees: tuple[str, ...]) -> tuple[NoteName, ...]:
    """Eight notes on seven letters: each a letter further but one, which repeats the letter before it (or the last, which
    has the letter of the root above it).

    Which one is free (common practice, no source): the spelling with the fewest double signs is taken, then the one nearest to the
    degrees of the table.
    """
    usual = tuple(root + degree_interval(degree) for degree in degrees)
    ways = [
        tuple(
            root + Interval(place - (place >= twice), degree_interval(degree).semitones)
            for place, degree in enumerate(degrees)
        )
        for twice in range(1, len(degrees) + 1)
    ]

    def cost(names: tuple[NoteName, ...]) -> tuple[int, int, int]:
        doubles = sum(max(abs(name.alter) - 1, 0) for name in names)
        return doubles, sum(a != b for a, b in zip(names, usual, strict=True)), sum(abs(name.alter) for name in names)

    return min(ways, key=cost)


def scale_for(
    symbol: ChordSymbol,
    reading: Reading | None = None,
    melody: Iterable[NoteName] = (),
    bass: Iterable[NoteName] = (),
) -> ScaleChoice:
    """The scale for a chord in its function.

    melody and bass are the notes that count against this chord (held or on the beat), concert spelling; the symbol's
    own slash bass is always considered.

    >>> from tunes.harmony.chords import parse_symbol
    >>> choice = scale_for(parse_symbol("Cmaj7").symbol, melody=[NoteName("F", 1)])
    >>> choice.name, choice.overridden, choice.reason
    ('Lydian', True, 'The melody has F♯, which is not in C Ionian: Lydian.')
    """
    if reading is None:
        return scale_in(symbol, None, None, melody, bass)
    on_five = reading.function.of == "5" and symbol.family == "suspended"  # a dominant in a mode too: no minor third
    modal = None if on_five else modal_scale(heard_as(symbol), reading.key, reading.patterns)
    return scale_in(symbol, reading.function, reading.key, melody, bass, modal, reading.half_two)


def scale_in(
    symbol: ChordSymbol,
    function: Function | None,
    key: Key | None,
    melody: Iterable[NoteName] = (),
    bass: Iterable[NoteName] = (),
    modal: Picked | None = None,
    half_two: bool = False,
) -> ScaleChoice:
    """As `scale_for`, with function and key given separately, the scale of a modal passage, and whether the chord's own 2, half
    diminished, stands before it. A tension lies in the scale and is no chord tone: any other is not listed. Over a sixth chord
    the seventh of the scale takes the place of the 13th, which is in the chord (Nettles and Graf 1997)."""
    symbol = heard_as(symbol)
    picked = modal or default_scale(symbol, function, key, half_two)
    scale = SCALES[picked.scale]
    tensions = _listed(symbol, scale, {*picked.tensions, *_symbol_tensions(symbol)})
    choice = ScaleChoice(
        symbol.root, picked.scale, scale_notes(symbol.root, picked.scale), tensions,
        avoid_degrees(symbol, scale, picked.avoid, tensions), RULES[picked.rule].sentence, picked.rule, also=picked.also,
    )  # fmt: skip
    heard = [("melody", note) for note in melody] + [("bass", note) for note in bass]
    if symbol.bass is not None:
        heard.append(("bass", symbol.bass))
    return _overruled(choice, symbol, heard)


def _listed(symbol: ChordSymbol, scale: Scale, wanted: Iterable[str]) -> tuple[str, ...]:
    inside, chord = _pcs(scale), _chord_tones(symbol)
    found = {one for one in wanted if _semitones(one) in inside and _semitones(one) not in chord}
    if "13" in wanted and _semitones("13") in chord and "7" in scale.degrees and not symbol.has("7"):
        found.add("7")
    return tuple(_in_order(found))


def _chord_tones(symbol: ChordSymbol) -> frozenset[int]:
    """Semitones of the chord itself, without the tensions that its symbol names."""
    return frozenset(_semitones(degree) for degree in symbol.degrees if degree_parts(degree)[0] <= 7)


def _symbol_tensions(symbol: ChordSymbol) -> set[str]:
    return {degree for degree in symbol.degrees if degree_parts(degree)[0] > 7}


def _in_order(degrees: set[str]) -> list[str]:
    return sorted(degrees, key=degree_parts)


def avoid_degrees(symbol: ChordSymbol, scale: Scale, also: Sequence[str], tensions: Sequence[str]) -> tuple[str, ...]:
    """Scale degrees a semitone above a chord tone, dominants exempt but for their 11th, and those named by a rule.

    Nettles and Graf (1997). Degrees that the chord itself contains, or that a rule lists as tensions, are never avoided.
    """
    chord = {_semitones(degree) for degree in symbol.degrees}
    found: set[str] = set(also)
    for degree in scale.degrees:
        upper = _as_tension(degree)
        above_chord_tone = (_semitones(degree) - 1) % 12 in chord
        if _semitones(degree) in chord or not above_chord_tone:
            continue
        if symbol.family in ("dominant", "diminished", "suspended") and degree != "4":
            continue
        found.add(upper)
    return tuple(_in_order({d for d in found if d not in tensions and _semitones(d) not in chord}))


def _semitones(degree: str) -> int:
    return degree_interval(degree).semitones % 12


def _as_tension(degree: str) -> str:
    """ "b2" → "b9": how a scale degree that is no chord tone is called."""
    number, _ = degree_parts(degree)
    return degree[: -len(str(number))] + str(number + 7) if number in (2, 4, 6) else degree


# --- what is heard ---


def _overruled(choice: ScaleChoice, symbol: ChordSymbol, heard: list[tuple[str, NoteName]]) -> ScaleChoice:
    """The default, or the nearest scale that has the chord and what is heard."""
    inside = {note.pc for note in choice.notes}
    against = [(who, note) for who, note in heard if note.pc not in inside]
    if not against:
        return choice
    wanted = {(note.pc - symbol.root.pc) % 12 for _, note in heard}
    better = _nearest_scale(choice, symbol, wanted)
    if better is None:
        return choice
    who, note = next((who, note) for who, note in against if (note.pc - symbol.root.pc) % 12 in _pcs(better))
    reason = f"The {who} has {note.display}, which is not in {choice.root.display} {choice.name}: {better.name}."
    tensions = _free_tensions(symbol, better)
    return replace(
        choice, scale=better.id, notes=scale_notes(choice.root, better.id), tensions=tensions,
        avoid=avoid_degrees(symbol, better, (), tensions), reason=reason, rule="heard", overridden=True,
        instead_of=choice.scale, also="",
    )  # fmt: skip


def _pcs(scale: Scale) -> frozenset[int]:
    return frozenset(_semitones(degree) for degree in scale.degrees)


def _nearest_scale(choice: ScaleChoice, symbol: ChordSymbol, wanted: set[int]) -> Scale | None:
    """Among scales that contain the chord: most of what is heard, then fewest notes changed."""
    chord = {_semitones(degree) for degree in symbol.degrees}
    default = _pcs(SCALES[choice.scale])
    have = len(wanted & default)
    fitting = [scale for scale in SCALES.values() if chord <= _pcs(scale) and len(wanted & _pcs(scale)) > have]
    if not fitting:
        return None
    order = list(SCALES)
    return min(
        fitting,
        key=lambda s: (
            -len(wanted & _pcs(s)),
            len(_pcs(s) ^ default),
            abs(len(s.degrees) - 7),
            order.index(s.id),
        ),
    )


def _free_tensions(symbol: ChordSymbol, scale: Scale) -> tuple[str, ...]:
    """Tensions by the whole-step rule alone (all of them over a dominant), for a scale that no table names here."""
    chord = {_semitones(degree) for degree in symbol.degrees}
    found: set[str] = _symbol_tensions(symbol)
    for degree in scale.degrees:
        value = _semitones(degree)
        dominant = symbol.family == "dominant" and degree != "4"
        if value not in chord and (dominant or (value - 1) % 12 not in chord):
            found.add(_as_tension(degree))
    return _listed(symbol, scale, found)
