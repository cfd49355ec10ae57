"""The demo's solos: written into its recordings' sound, and written out from them."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from tunes.demo.solo_data import SOLOS, DemoSolo
from tunes.harmony.pitch.spelling import Pitch
from tunes.models import Solo, SoloWord, Tune
from tunes.recordings.charts import form_revision
from tunes.solos import services
from tunes.solos.bars import Covers, form_length
from tunes.solos.notes import Bars, Entry, sounding
from tunes.study import chart_of

RIGHTS = "Written for this demo; the recording is rendered by the site's own band. Nobody's rights are touched."


def read_bar(text: str) -> tuple[Entry, ...]:
    """One bar in the notation of `solo_data`.

    >>> [str(entry.length) for entry in read_bar("C5 tD5 r:1 E5~")]
    ['1/2', '1/3', '1', '1/2']
    """
    found = []
    for word in text.split():
        name, _, length = word.rstrip("*~").partition(":")
        triplet = name.startswith("t")
        pitch = None if name == "r" else Pitch.parse(name.removeprefix("t"))
        lasts = Fraction(length) if length else Fraction(1, 3) if triplet else Fraction(1, 2)
        found.append(Entry(lasts, pitch, 3 if triplet else 0, tie="~" in word, ghost="*" in word))
    return tuple(found)


def solo_on(title: str) -> DemoSolo | None:
    return next((solo for solo in SOLOS if solo.tune == title), None)


def choruses(title: str, form: int) -> int:
    """How many choruses the recording of a tune has: the head, and the solo; two where nobody plays one."""
    solo = solo_on(title)
    return 2 if solo is None else solo.first_chorus - 1 + -(-len(solo.bars) // form)


def played(title: str, chorus_beats: float, bar_beats: float, *, swing: bool) -> list[tuple[float, float, int]]:
    """The solo on a tune as (beat, length, MIDI number) from the first downbeat of the recording, eighths swung."""
    solo = solo_on(title)
    if solo is None:
        return []
    bars = tuple(read_bar(text) for text in solo.bars)
    starts = tuple(Fraction(bar_beats).limit_denominator(8) * number for number in range(len(bars)))
    lengths = (Fraction(bar_beats).limit_denominator(8),) * len(bars)
    begin = (solo.first_chorus - 1) * chorus_beats
    found = []
    for note in sounding(bars, starts, lengths):
        start, end = _swung(note.onset, swing), _swung(note.onset + note.duration, swing)
        found.append((begin + start, (end - start) * (0.5 if note.ghost else 1), note.pitch.midi))
    return found


def _swung(time: Fraction, swing: bool) -> float:
    """Off-beats on the last third of the beat."""
    return float(time // 1) + 2 / 3 if swing and time % 1 == Fraction(1, 2) else float(time)


def load_solos(world: Any, tunes: Sequence[Tune]) -> None:
    """Write the solos out, once; share two of them, ask about a bar, name a line."""
    by_title = {tune.title: tune for tune in tunes}
    for row in SOLOS:
        tune, writer = by_title.get(row.tune), world.people.get(row.writer)
        if tune is None or writer is None or Solo.objects.filter(revision__version__tune=tune).exists():
            continue
        _load(world, row, tune, writer)


def _load(world: Any, row: DemoSolo, tune: Tune, writer: Any) -> None:
    revision = form_revision(tune)
    recording = next((one for one in tune.recordings.all() if one.is_reference), None)
    if revision is None or recording is None:
        return
    form = form_length(chart_of(revision.text))
    last = len(row.bars) - 1
    covers = Covers(row.first_chorus, 1, row.first_chorus + last // form, last % form + 1)
    solo = services.begin(
        by=writer, revision=revision, recording=recording, player=row.player, instrument=row.instrument, covers=covers,
        rights=RIGHTS, bars=len(row.bars),
    )  # fmt: skip
    bars: Bars = tuple(() if number in row.unwritten else read_bar(text) for number, text in enumerate(row.bars, 1))
    services.save_draft(solo=solo, bars=bars, serial=0, client="")
    if row.unwritten:
        return
    services.keep(solo=solo, bars=bars, by=writer)
    if row.ensemble:
        services.share(solo=solo, ensemble=world.ensembles[row.ensemble], url=f"/tunes/solos/{solo.pk}/")
        services.ask(solo=solo, bars={bar - 1 for bar in row.asked}, by=world.leader(row.ensemble))
    for first, end, name in row.names:
        services.say(solo=solo, by=writer, kind=SoloWord.Kind.NAME, first=first, last=end, text=name)
