"""Where the demo's instructors hear a chord, or a run of chords, otherwise than it was computed.

Their reasons speak in numbers, not in notes: every player reads them beside the chart in a key of their own.
"""

from __future__ import annotations

from typing import Any

from tunes.demo.shapes import DemoChord, DemoOverrule
from tunes.harmony.pitch.spelling import Key
from tunes.heard import read_function
from tunes.models import ChartRevision
from tunes.selectors import revisions_for_study
from tunes.services.overrules import overrule, overrule_area
from tunes.study import StudyChart, study_chart

OVERRULES = (
    DemoOverrule(
        "Paper Lantern Weather", "teodor", DemoChord(6, "Db7"), "Eb major",
        "The back door. The minor 3 stands for home here; the other two times the same chords go on to 2 and 5.", "bVII7", once=True,
    ),
    DemoOverrule(
        "The Glassblower's Letter", "ilse", DemoChord(6, "Gb7"), "Ab major",
        "The melody's flat 6 falls to 5: the sound of minor 4. This is the back door, with 3 standing for home.", "bVII7",
    ),
    DemoOverrule(
        "Low Tide Ledger", "ilse", DemoChord(6, "Bb7"), "C minor",
        "With the bar before it this is 2 and 5 of flat 3. It turns back, and that is why it hurts.", "V7/bIII",
    ),
    DemoOverrule(
        "Three Rivers Meet", "ilse", DemoChord(13, "Amaj7"), "A major",
        "We have been here in bar 5. By now the ear takes it for a home of its own, not for the 3 of the key.", last=DemoChord(13, "Amaj7"),
    ),
    DemoOverrule(
        "The Long Parade", "teodor", DemoChord(9, "Am7b5"), "G minor",
        "2, 5 and 1 of a minor key of its own: at this tempo the ear rests on it before it goes home.", last=DemoChord(11, "Gm7"),
    ),
)  # fmt: skip


def load_overrules(world: Any) -> None:
    """Set the overrules on the agreed charts of tunes that are there; a chart that has some is left alone."""
    for row in OVERRULES:
        revision = _agreed(row.tune)
        if revision is None:
            continue
        study = study_chart(revision)
        first, key, by = event_of(study, row.first), Key.parse(row.key), world.people[row.by]
        if row.last is not None:
            if not revision.area_overrides.all():
                last = event_of(study, row.last)
                overrule_area(
                    revision=revision, first=first, last=last, key=key, why=row.why, by=by, every_time=not row.once
                )
        elif not revision.label_overrides.all():
            key, function = read_function(row.reading, key, study.events[first].symbol, study.computed.readings[first])
            overrule(
                revision=revision, event=first, key=key, function=function, why=row.why, by=by, every_time=not row.once
            )


def _agreed(title: str) -> ChartRevision | None:
    rows = revisions_for_study().filter(version__tune__title=title, version__is_agreed=True)
    return rows.order_by("-number").first()


def event_of(study: StudyChart, chord: DemoChord) -> int:
    """The index of the event that `chord` names. Raises LookupError when the chart has no such chord."""
    found = [
        event.index for event in study.events
        if study.chart.bars[event.bar].number == chord.bar and event.symbol and event.symbol.text == chord.symbol
    ]  # fmt: skip
    if len(found) < chord.turn:
        raise LookupError(f"bar {chord.bar} has no {chord.symbol} the {chord.turn}. time")
    return found[chord.turn - 1]
