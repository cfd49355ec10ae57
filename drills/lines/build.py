"""From a recipe to a finished line: the generator it names, rests, breathing places and remarks.

`Recipe` is what a player or an instructor chooses; it goes to and from plain data, so that a drill can be kept,
linked to and cached by its content.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from types import MappingProxyType
from typing import Any, Protocol

from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.charts.bar_count import bars_named
from tunes.harmony.charts.model import Chart
from tunes.harmony.pitch.spelling import Key, NoteName

from . import guide_tones, ornaments, piano, scales
from .arpeggios import STARTS, arpeggios, written_ninth
from .breaths import with_breaths
from .carried import CarriedNotes
from .carried import remarks as remarks_of
from .cells import DIRECTIONS
from .compass import Compass, range_remarks
from .line import CROTCHET, GRAND, QUAVER, Line, LineChord, LineNote, Remark
from .ornaments import ORNAMENTS
from .passage import Passage, Span, again, passage
from .readable import readable_notes

KINDS = ("guide-tones", "arpeggios", "scales", "piano")
PIANO = "piano"
VALUES = {"quavers": QUAVER, "crotchets": CROTCHET}
VALUE_WORDS = {"quavers": "eighths", "crotchets": "quarters"}  # as solos and feels call them
LONG_HARMONY = 8  # crotchets on one chord that are worth saying


class Study(Protocol):
    """What is read of `tunes.study.StudyChart`."""

    @property
    def chart(self) -> Chart: ...
    @property
    def analysis(self) -> Analysis: ...
    @property
    def key(self) -> Key: ...


@dataclass(frozen=True, slots=True)
class Recipe:
    """What to practise.

    kind        one of KINDS.
    start       guide tones: "3", "7" or "" (the smoother); arpeggios: one of STARTS; scales: "root" or "nearest"; piano: one of
                `piano.STYLES`, shells or two hands.
    voices      1 or 2 guide-tone voices.
    ornament    one of ORNAMENTS, for one guide-tone voice.
    direction   one of DIRECTIONS; value: "quavers" or "crotchets"; ninth: arpeggios reach the 9th.
    first_bar, last_bar   bars as written on the chart, 0 and 0 for the whole chorus.
    events      (first, last) events of a key area or an idiom; wins over bars.
    tempo       crotchets a minute, for breathing places and sound.
    """

    kind: str = "guide-tones"
    start: str = ""
    voices: int = 1
    ornament: str = "none"
    direction: str = "up"
    value: str = "quavers"
    ninth: bool = False
    first_bar: int = 0
    last_bar: int = 0
    events: tuple[int, int] | None = None
    tempo: int = 120

    def to_json(self) -> dict[str, Any]:
        """A plain dictionary."""
        data = asdict(self)
        data["events"] = list(self.events) if self.events else None
        return data

    @classmethod
    def from_json(cls, data: Mapping[str, Any]) -> Recipe:
        """A recipe from plain data; anything unknown or out of range takes its default."""
        kind = _one_of(data.get("kind"), KINDS, "guide-tones")
        events = data.get("events")
        return cls(
            kind=kind,
            start=_one_of(data.get("start"), STARTS_OF[kind], STARTS_OF[kind][0]),
            voices=2 if str(data.get("voices")) == "2" else 1,
            ornament=_one_of(data.get("ornament"), ORNAMENTS, "none"),
            direction=_one_of(data.get("direction"), DIRECTIONS, "up"),
            value=_one_of(data.get("value"), tuple(VALUES), "quavers"),
            ninth=bool(data.get("ninth")),
            first_bar=_number(data.get("first_bar"), 0, 9999, 0),
            last_bar=_number(data.get("last_bar"), 0, 9999, 0),
            events=(_number(events[0], 0, 9999, 0), _number(events[1], 0, 9999, 0)) if events else None,
            tempo=_number(data.get("tempo"), 30, 320, 120),
        )


STARTS_OF = {"guide-tones": ("", "3", "7"), "arpeggios": STARTS, "scales": ("root", "nearest"), PIANO: piano.STYLES}


def _one_of(value: Any, allowed: Sequence[str], default: str) -> str:
    return value if value in allowed else default


def _number(value: Any, low: int, high: int, default: int) -> int:
    try:
        return min(max(int(value), low), high)
    except (TypeError, ValueError):
        return default


def chosen(study: Study, recipe: Recipe) -> Passage:
    """The passage a recipe asks for; raises `EmptyPassage` when it holds no chord."""
    if recipe.events is not None:
        first, last = sorted(recipe.events)
        return passage(study.chart, study.analysis, events=range(first, last + 1))
    if recipe.first_bar or recipe.last_bar:
        low, high = sorted((recipe.first_bar, recipe.last_bar or recipe.first_bar))
        return passage(study.chart, study.analysis, bars=range(low, high + 1), whole_chorus=False)
    return passage(study.chart, study.analysis)


def build_line(
    study: Study,
    recipe: Recipe,
    compass: Compass,
    *,
    scale_of: Callable[[Study], scales.ScaleOf],
    written_for: str = "",
    carried: CarriedNotes = MappingProxyType({}),
) -> Line:
    """The line of a recipe over a study that is already in the printed key. `carried`: notes taken from a recording, which
    scales and arpeggios play at their places. Raises `EmptyPassage`."""
    part = chosen(study, recipe)
    make = {"guide-tones": _guide_tones, "arpeggios": _arpeggios, "scales": _scales, PIANO: _piano}[recipe.kind]
    notes, remarks, movement = make(part, recipe, compass, scale_of(study), carried)
    if compass.blown:
        notes = with_breaths(notes, part.bars, recipe.tempo)
    remarks = [
        *_played_again(part, recipe),
        *remarks,
        *range_remarks(notes, compass, lambda note: part.bar_number(note.start)),
        *_two_counts(part),
    ]
    return Line(
        kind=recipe.kind,
        title=title_of(recipe),
        key=part.key,
        bars=part.bars,
        chords=part.chords,
        notes=tuple(_with_rests(readable_notes(notes, part), part)),
        clef=GRAND if recipe.kind == PIANO else compass.clef,
        written_for=written_for,
        shift=compass.shift,
        remarks=tuple(remarks),
        movement=movement,
    )


Made = tuple[list[LineNote], list[Remark], int | None]


def _guide_tones(part: Passage, recipe: Recipe, compass: Compass, scale_of: scales.ScaleOf, _: CarriedNotes) -> Made:
    spans = part.spans
    choice = guide_tones.smoothest([span.symbol for span in spans], recipe.start, recipe.voices)
    placed = guide_tones.pitches(choice, spans, compass)
    notes: list[LineNote] = []
    for span, tones, heights in zip(spans, choice.tones, placed, strict=True):
        if heights is None:
            continue
        for chord, start, end in _pieces(span, heights.turn):
            for voice, (tone, pitch) in enumerate(zip(tones or (), heights.at(start), strict=True), start=1):
                notes.append(LineNote(pitch, start, end - start, chord.event, tone.degree, voice))
    if recipe.voices == 1:
        notes = ornaments.approached(notes, _resolutions(part), recipe.ornament)
    remarks = [_about(text, bars) for text, bars in guide_tones.said(part)]
    remarks += _fifths(choice, part) + _octaves(notes, part) + _standing(part)
    return notes, remarks, choice.movement


def _fifths(choice: guide_tones.GuideLine, part: Passage) -> list[Remark]:
    """Where the line lands on a 5th: after a dominant that rises a tone it is the nearest note."""
    bars = [
        part.bar_number(span.start)
        for span, tones in zip(part.spans, choice.tones, strict=True)
        if span.symbol is not None and span.symbol.third is not None and any(tone.degree == "5" for tone in tones or ())
    ]
    return [_about("After a dominant that rises a tone the 5th is the nearest note", bars)] if bars else []


def _pieces(span: Span, turn: Fraction | None) -> Iterator[tuple[LineChord, Fraction, Fraction]]:
    """The places of a span with their starts and ends, one of them cut in two where the line turns within it."""
    for chord in span.chords:
        if turn is not None and chord.start < turn < chord.end:
            yield chord, chord.start, turn
            yield chord, turn, chord.end
        else:
            yield chord, chord.start, chord.end


def _resolutions(part: Passage) -> dict[Fraction, Key]:
    """Starts of the spans that a dominant before them resolves to: root down a fifth or a semitone."""
    targets: dict[Fraction, Key] = {}
    for one, other in zip(part.spans, part.spans[1:], strict=False):
        if one.symbol is None or other.symbol is None or one.symbol.family not in ("dominant", "suspended"):
            continue
        if (one.symbol.root.pc - other.symbol.root.pc) % 12 in (1, 7):
            targets[other.start] = part.key_at(other.event)
    return targets


def _octaves(notes: Sequence[LineNote], part: Passage) -> list[Remark]:
    """Where the line changes octave to stay in its register."""
    remarks = []
    heard = [note for note in notes if note.pitch and note.voice == 1 and not note.ornament]
    for one, other in itertools.pairwise(heard):
        if one.pitch and other.pitch and abs(other.pitch.midi - one.pitch.midi) > 6:
            where = "up" if other.pitch.midi > one.pitch.midi else "down"
            bar = part.bar_number(other.start)
            remarks.append(Remark(f"The line moves {where} an octave here to stay in its register.", bar))
    return remarks


def _standing(part: Passage) -> list[Remark]:
    """Harmony that stands still for two bars or more."""
    remarks = []
    for span in part.spans:
        if span.symbol is not None and span.end - span.start > LONG_HARMONY:
            text = (
                f"The harmony stands still on {span.symbol.display}: hold the note and listen to what moves round it."
            )
            remarks.append(Remark(text, part.bar_number(span.start)))
    return remarks


def _about(text: str, bars: Sequence[int]) -> Remark:
    return Remark(f"{text} ({bars_named(bars[:12])}{' and more' if len(bars) > 12 else ''}).")


def _arpeggios(
    part: Passage, recipe: Recipe, compass: Compass, scale_of: scales.ScaleOf, carried: CarriedNotes
) -> Made:
    def ninth_of(chord: LineChord) -> NoteName:
        assert chord.symbol is not None
        return written_ninth(chord.symbol) or scale_of(chord).ninth or scale_of(chord).notes[1]

    notes = arpeggios(
        part,
        compass,
        direction=recipe.direction,
        start=recipe.start,
        value=VALUES[recipe.value],
        ninth_of=ninth_of if recipe.ninth else None,
        carried=carried,
    )
    return notes, _no_chord(part) + remarks_of(part, carried), None


def _scales(part: Passage, recipe: Recipe, compass: Compass, scale_of: scales.ScaleOf, carried: CarriedNotes) -> Made:
    notes = scales.scales(
        part,
        compass,
        scale_of,
        direction=recipe.direction,
        continuous=recipe.start == "nearest",
        value=VALUES[recipe.value],
        carried=carried,
    )
    return notes, _no_chord(part) + _overridden(part, scale_of), None


def _piano(part: Passage, recipe: Recipe, compass: Compass, scale_of: scales.ScaleOf, _: CarriedNotes) -> Made:
    notes, remarks = piano.piano(part, recipe.start, lambda chord: scale_of(chord).ninth)
    return notes, _no_chord(part) + remarks, None


def _played_again(part: Passage, recipe: Recipe) -> list[Remark]:
    """Chosen bars that come twice, because another ending follows them the second time."""
    bars = again(part) if recipe.first_bar and recipe.events is None else []
    return [_about("As the chorus plays them: bars before another ending come again with it", bars)] if bars else []


def _two_counts(part: Passage) -> list[Remark]:
    """How bars are counted, where the chart has them under other numbers."""
    other = next((bar for bar in part.bars if bar.written is not None), None)
    if other is None:
        return []
    return [Remark(f"Bars are counted as played: bar {other.number} is bar {other.written} as written on the chart.")]


def _no_chord(part: Passage) -> list[Remark]:
    bars = sorted({part.bar_number(chord.start) for chord in part.chords if chord.symbol is None})
    return [_about("No chord: the line rests", bars)] if bars else []


def _overridden(part: Passage, scale_of: scales.ScaleOf) -> list[Remark]:
    """Scales that the melody or the bass of the reference decided, with the reason."""
    remarks = []
    for chord in part.chords:
        scale = scale_of(chord) if chord.symbol else None
        if scale and scale.overridden:
            remarks.append(Remark(f"{chord.text}: {scale.name}. {scale.reason}", part.bar_number(chord.start)))
    return remarks


def _with_rests(notes: Sequence[LineNote], part: Passage) -> list[LineNote]:
    """Each voice filled up with rests, so that every bar is full."""
    result: list[LineNote] = []
    for voice in sorted({note.voice for note in notes} | {1}):
        time = Fraction(0)
        for note in (note for note in notes if note.voice == voice):
            if note.start > time:
                result.append(LineNote(None, time, note.start - time, note.event, voice=voice))
            result.append(note)
            time = note.end
        end = part.bars[-1].end
        if time < end:
            result.append(LineNote(None, time, end - time, part.chords[-1].event, voice=voice))
    one_voice = all(note.voice == 1 for note in result)
    return result if one_voice else sorted(result, key=lambda note: (note.start, note.voice))


_START_WORDS = {"3": "starting on the 3rd", "7": "starting on the 7th", "": "the smoothest start",
                "root": "from the root", "third": "from the 3rd", "nearest": "running on to the nearest tone"}  # fmt: skip


PIANO_WORDS = {"shells": "The changes at the piano, left hand: root and 3rd or 7th",
               "hands": "The changes at the piano, two hands"}  # fmt: skip


def title_of(recipe: Recipe) -> str:
    """What a drill is called on the page."""
    if recipe.kind == "guide-tones":
        voices = ", two voices" if recipe.voices == 2 else ""
        ornament = {"none": "", "below": ", approached from below", "enclosure": ", with enclosures"}[recipe.ornament]
        return f"Guide tones, {_START_WORDS[recipe.start]}{voices}{ornament if recipe.voices == 1 else ''}"
    if recipe.kind == PIANO:
        return PIANO_WORDS[recipe.start]
    start = _START_WORDS[recipe.start]
    if recipe.kind == "scales":
        start = "running on through the changes" if recipe.start == "nearest" else "from the root"
    to_ninth = " to the 9th" if recipe.kind == "arpeggios" and recipe.ninth else ""
    return f"{recipe.kind.capitalize()}{to_ninth}, {recipe.direction}, {start}, in {VALUE_WORDS[recipe.value]}"
