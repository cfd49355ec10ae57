"""How a note that was heard is named on the page of its take: as its staff is printed."""

from __future__ import annotations

from collections.abc import Callable
from urllib.parse import parse_qsl

from django.http import Http404

from drills import sheets
from drills.hearing.naming import spelled
from drills.lines.line import Line
from drills.lines.passage import EmptyPassage
from drills.models import KeptLine
from drills.takes.making import material_of
from drills.takes.melody import NotOnAStaff, melody_line
from drills.takes.models import Take
from drills.takes.plans import NothingToRecord, line_plan_of, sight_of
from drills.wishes import Wish
from tunes.harmony.pitch.spelling import NoteName

_PLAIN = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def line_of(take: Take) -> Line | None:
    """The line that a take is of, as it is printed now; None where there is none any more, or another one."""
    try:
        line = _line(take)
    except (NothingToRecord, EmptyPassage, NotOnAStaff, Http404):
        return None
    if line is None or line.shift is None:
        return None
    sounding = [note.pitch.midi - line.shift.semitones for note in line.notes if note.pitch]
    return line if sounding == [int(row[2]) for row in take.played.get("notes", ())] else None


def _line(take: Take) -> Line | None:
    asked = dict(parse_qsl(take.query))
    if take.kind == Take.Kind.LINE:
        row = (
            KeptLine.objects.select_related("solo__revision__version__tune", "kept")
            .filter(pk=take.line_id or 0)
            .first()
        )
        music = line_plan_of(take.player, row, asked).extra["music"] if row else None
        return music if isinstance(music, Line) else None
    if take.kind not in (Take.Kind.DRILL, Take.Kind.MELODY) or take.revision_id is None:
        return None
    material = material_of(take.revision_id)
    if take.kind == Take.Kind.MELODY:
        sight = sight_of(asked, take.instrument)
        return melody_line(material.study, material.melody, sight) if material.melody else None
    return sheets.line_shown(
        material.study, Wish.from_query(asked, instrument=take.instrument), melody=material.melody
    )[0]


def spell_of(take: Take) -> Callable[[int, int], str]:
    """(place among the notes of a chorus, sounding MIDI number) → the name of the note as printed, or in concert pitch where
    the staff is not ours to read."""
    line = line_of(take)
    if line is None:
        return lambda _index, midi: f"{NoteName.parse(_PLAIN[midi % 12]).display} (concert)"
    places = [place for place, note in enumerate(line.notes) if note.pitch]

    def named(index: int, midi: int) -> str:
        wanted, heard = line.notes[places[index]].pitch, spelled(line, places[index], midi)
        if wanted is not None and wanted.name.pc == heard.name.pc:
            return f"{heard.name.display}, an octave {'higher' if heard.midi > wanted.midi else 'lower'}"
        return heard.name.display

    return named
