"""Solos, and the lines cut from them, as MusicXML, for an open archive of the programme."""

from __future__ import annotations

from collections.abc import Iterator

from drills.kept_lines import line_of, twelve
from drills.models import KeptLine
from drills.musicxml import to_musicxml
from drills.solos.score import solo_line, written
from drills.vocabulary import NothingToCut
from studio.instruments import CONCERT
from studio.moving.sheets import Sheet, sheets
from tunes.models import Solo
from tunes.solos import selectors
from tunes.solos.bars import solo_form
from tunes.study import ChartUnreadable


@sheets("solos")
def solos() -> Iterator[Sheet]:
    """The newest kept notes of every solo, in concert pitch."""
    rows = Solo.objects.select_related("revision__version__tune").order_by("pk")
    for solo in rows:
        kept = selectors.newest(solo)
        if kept is None:
            continue
        name = f"solo-{solo.pk}-kept-{kept.number}"
        try:
            form = solo_form(selectors.study_of(solo), selectors.covers(solo), CONCERT)
        except ChartUnreadable as problem:
            yield Sheet(name, b"", str(problem))
            continue
        bars = selectors.read_stored(kept.notes, len(form.bars))
        line = solo_line(form, bars, title=f"{solo.player} on {solo.revision.version.tune.title}")
        score = to_musicxml(line, title=line.title, part_name=solo.player, written=written(line, form, bars))
        yield Sheet(name, score.encode())


@sheets("lines")
def lines() -> Iterator[Sheet]:
    """Every line that the class keeps, in the first of its twelve keys in which it fits, in concert pitch."""
    rows = KeptLine.objects.select_related("solo__revision__version__tune", "kept").order_by("pk")
    for row in rows:
        try:
            fits = [found.line for _, found in twelve(line_of(row), CONCERT) if found.line is not None]
        except (NothingToCut, ChartUnreadable) as problem:
            yield Sheet(f"line-{row.pk}", b"", str(problem))
            continue
        if fits:
            yield Sheet(f"line-{row.pk}", to_musicxml(fits[0], title=str(row), part_name="Line").encode())
