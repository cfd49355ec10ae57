"""The demo's melodies: read from their plain text, kept with the agreed charts, and laid out for the sound files."""

from __future__ import annotations

from fractions import Fraction

from studio.models import User
from tunes.demo.melody_data import FIRST_LINES, MELODIES, PHRASES
from tunes.harmony.charts import Chart
from tunes.harmony.pitch.spelling import Pitch
from tunes.interchange import Melody, MelodyNote
from tunes.lead_sheets.services import keep_melody
from tunes.models import ChartRevision, LyricReference, Phrase, Tune
from tunes.study import chart_of

RIGHTS = "Written for this demo. Nobody's rights are touched."


def load_melody(tune: Tune, revision: ChartRevision, by: User) -> Melody:
    """Keep the melody of a tune with the version of `revision`; an empty one when the demo has none."""
    text = MELODIES.get(tune.title)
    if text is None:
        return Melody()
    melody = read_melody(text, chart_of(revision.text))
    keep_melody(version=revision.version, melody=melody, rights=RIGHTS, source_name="by ear, from the reference", by=by)
    return melody


def load_phrases(tune: Tune) -> None:
    """The section map and where the words are to be found."""
    Phrase.objects.bulk_create(
        Phrase(tune=tune, label=label, first=first, last=last, note=note)
        for label, first, last, note in PHRASES.get(tune.title, ())
    )
    if tune.title in FIRST_LINES:
        line, link = FIRST_LINES[tune.title]
        LyricReference.objects.create(tune=tune, first_line=line, link=link)


def read_melody(text: str, chart: Chart) -> Melody:
    """A melody in the notation of `melody_data`. Raises ValueError where bars and beats do not fit the chart.

    >>> from tunes.study import chart_of
    >>> read_melody("C5:3 D5", chart_of("| C |")).to_json()
    [[0, '0', '3', 'C5', False], [0, '3', '1', 'D5', False]]
    """
    bars = text.split("|")
    if len(bars) != len(chart.bars):
        raise ValueError(f"{len(bars)} bars of melody, {len(chart.bars)} bars of chart")
    notes = []
    for index, bar in enumerate(bars):
        at = Fraction(0)
        for token in bar.split():
            name, _, beats = token.partition(":")
            length = Fraction(beats or 1)
            if name != "-":
                notes.append(MelodyNote(index, at, length, Pitch.parse(name)))
            at += length
        if at != chart.bars[index].beats:
            raise ValueError(f"bar {chart.bars[index].number} lasts {chart.bars[index].beats} beats, its melody {at}")
    return Melody(tuple(notes))


def sung(melody: Melody, chart: Chart) -> list[tuple[float, float, int]]:
    """One chorus of a melody as (beat, length, MIDI number): quarter notes from the first downbeat."""
    out: list[tuple[float, float, int]] = []
    at = Fraction(0)
    for place in chart.unfold():
        bar = chart.bars[place.bar]
        if bar.is_pickup:
            continue
        quarter = Fraction(4, bar.metre.unit)
        out += [
            (float(at + note.start * quarter), float(note.duration * quarter), note.pitch.midi)
            for note in melody.notes if note.bar == place.bar
        ]  # fmt: skip
        at += bar.beats * quarter
    return out
