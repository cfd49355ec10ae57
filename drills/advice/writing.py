"""A solo that was heard, written down as a suggestion: notes on the bars of the form, the doubtful ones as guesses."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any
from urllib.parse import parse_qsl

from django.db import transaction

from drills.advice.models import TakeAdvice
from drills.takes.models import Take
from drills.takes.plans import sight_of
from drills.takes.played import bars_of, chorus_length
from studio.instruments import CONCERT
from tunes.harmony.pitch.spelling import NoteName, Pitch
from tunes.interchange.foreign import FileMusic, FileNote
from tunes.melody.placing import Tap, place
from tunes.models import Solo
from tunes.solos import services
from tunes.solos.bars import Covers, SoloForm, form_length, solo_form
from tunes.solos.layout import lay_out
from tunes.solos.notes import Bars
from tunes.study import StudyChart, study_chart

SHORTEST = Fraction(1, 8)
_CLOSE = Fraction(1, 3)
Row = Sequence[Any]
"""[second, length, MIDI number, cents, confidence, sure] as the advice of a solo keeps it."""


class NothingToWrite(ValueError):
    """There is no solo to write down; the message says why."""


def placed(take: Take, rows: Sequence[Row], moved: int = 0) -> list[tuple[FileNote, bool]]:
    """The notes on the bars of the form, each with whether pitch and place are sure. `moved`: semitones to the chart's key.

    The take was played to bars at known seconds, so every bar line is a tap.
    """
    lines = [row for row in bars_of(take) if row[0]]
    if len(lines) < 2:
        return []
    beats = max(1, round(float(lines[0][2])))
    even = all(float(row[2]) == beats for row in lines)
    second = 60 / take.tempo
    first = take.starts_at + float(lines[0][1]) * second
    if not even:
        return [(_note(_fraction((row[0] - first) / second), row, second, moved), bool(row[5])) for row in rows]
    count = int(take.choruses * chorus_length(take) / beats) + 2
    taps = [Tap(first + bar * beats * second, bar + 1, 1) for bar in range(-1, count)]
    spots = place([float(row[0]) for row in rows], taps, beats, swing=True)
    return [
        (_note((spot.bar - 1) * beats + spot.beat - 1 + spot.tick, row, second, moved), bool(row[5]) and spot.sure)
        for spot, row in zip(spots, rows, strict=True)
    ]


def _fraction(crotchets: float) -> Fraction:
    return Fraction(round(crotchets * 48), 48)


def _note(onset: Fraction, row: Row, second: float, moved: int) -> FileNote:
    length = max(SHORTEST, Fraction(round(float(row[1]) / second * 4), 4))
    return FileNote(onset, length, Pitch.nearest(_NAMES[(int(row[2]) + moved) % 12], int(row[2]) + moved))


_NAMES = [NoteName.parse(text) for text in ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")]
"""Names until the chart spells them: only the sound counts here."""


def laid(notes: Sequence[tuple[FileNote, bool]], form: SoloForm) -> tuple[Bars, tuple[str, ...]]:
    """The bars with guesses in them, and what the player should know."""
    joined: list[FileNote] = []
    for note, _ in notes:  # a note lasts to the next at most
        if joined and joined[-1].onset + joined[-1].duration > note.onset:
            joined[-1] = replace(joined[-1], duration=max(note.onset - joined[-1].onset, SHORTEST))
        joined.append(note)
    found = lay_out(FileMusic(tuple(joined), spelled=False), form)
    doubtful = [(note.onset, note.pitch.midi) for note, sure in notes if not sure]
    bars = []
    for bar, entries in zip(form.bars, found.bars, strict=True):
        at, made = bar.start, []
        for entry in entries:
            guess = entry.pitch is not None and any(
                midi == entry.pitch.midi and abs(onset - at) < _CLOSE for onset, midi in doubtful
            )
            made.append(replace(entry, guess=guess) if guess else entry)
            at += entry.length
        bars.append(tuple(made))
    return tuple(bars), found.remarks


def write_down(take: Take) -> tuple[Solo, tuple[str, ...]]:
    """A solo by its player with what was heard as its draft, and remarks. Raises `NothingToWrite`, `ChartUnreadable`."""
    advice = TakeAdvice.objects.filter(take=take, state=TakeAdvice.State.HEARD).first()
    rows = advice.data.get("solo") if advice else None
    if not rows or take.revision is None:
        raise NothingToWrite("There is nothing to write down: no solo was heard in this take, or its chart is deleted.")
    study = study_chart(take.revision)
    covers = Covers(1, 1, take.choruses, form_length(study.chart))
    form = solo_form(study, covers, CONCERT)
    bars, remarks = laid(placed(take, rows, _to_chart(take, study)), form)
    with transaction.atomic():
        solo = services.begin(
            by=take.player, revision=take.revision, recording=None, player=take.player.name,
            instrument=take.instrument, covers=covers, bars=len(form.bars),
        )  # fmt: skip
        services.take_from_file(solo=solo, bars=bars)
    return solo, remarks


def _to_chart(take: Take, study: StudyChart) -> int:
    """Semitones from the key that was played to the chart's own, by the nearer way."""
    key = sight_of(dict(parse_qsl(take.query)), take.instrument).key
    up = (study.key.tonic.pc - key.tonic.pc) % 12 if key else 0
    return up - 12 if up > 6 else up
