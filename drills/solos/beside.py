"""Two versions of the same bars of a recording side by side: both engraved as one person reads them, every difference in words,
and bar by bar which of the two is taken where they part. No database but to read the two."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from drills.engraving import engrave
from drills.sheets import in_sound
from drills.solos.score import solo_line, written
from studio.instruments import CONCERT, Instrument
from tunes.models import Solo, SoloRevision
from tunes.solos import selectors
from tunes.solos.agreement import Agreement, Pair, compare
from tunes.solos.bars import SoloForm, solo_form
from tunes.solos.notes import Bars, sounding

ONE, OTHER = "one", "other"
WORDS = {
    "rhythm": "at another place", "octave": "in another octave", "spelling": "spelled otherwise", "other": "another note",
    "missing": "only in the first", "extra": "only in the second",
}  # fmt: skip


class NotBeside(ValueError):
    """Two versions that cannot be laid side by side; the message says why."""


@dataclass
class Disputed:
    """One bar in which the two part: `bar` of the solo from 0, its number and chorus, the differences in words."""

    bar: int
    number: int
    chorus: int
    rows: tuple[dict[str, str], ...]
    chosen: str = ""


@dataclass(frozen=True)
class Beside:
    """Both versions over one form, as `form.instrument` reads them."""

    one: SoloRevision
    other: SoloRevision
    form: SoloForm
    agreement: Agreement
    disputed: tuple[Disputed, ...]

    def bars_of(self, which: str) -> Bars:
        row = self.one if which == ONE else self.other
        return selectors.read_stored(row.notes, len(self.form.bars))

    def merged(self, choices: Mapping[int, str]) -> Bars:
        """The bars of the first; in disputed ones those of the version chosen. Raises `NotBeside` while one is not settled."""
        open_bars = [bar for bar in self.disputed if choices.get(bar.bar) not in (ONE, OTHER)]
        if open_bars:
            numbers = ", ".join(str(bar.number) for bar in open_bars)
            raise NotBeside(f"Settle every bar in which they part first: still open {numbers}")
        first, second = self.bars_of(ONE), self.bars_of(OTHER)
        return tuple(second[n] if choices.get(n) == OTHER else first[n] for n in range(len(first)))


def beside(one: SoloRevision, other: SoloRevision, reader: Instrument) -> Beside:
    """Raises `NotBeside` for versions of other bars, of another chart, or of another recording."""
    a, b = one.solo, other.solo
    if a.pk == b.pk:
        raise NotBeside("These are two states of one solo: choose the solo of somebody else")
    if (a.revision_id, a.recording_id) != (b.revision_id, b.recording_id):
        raise NotBeside("The two stand on another recording or another chart")
    if selectors.covers(a) != selectors.covers(b):
        raise NotBeside("The two cover different bars: write the same choruses and bars down")
    study, covers = selectors.study_of(a), selectors.covers(a)
    concert, form = solo_form(study, covers, CONCERT), solo_form(study, covers, reader)
    sides = [
        sounding(selectors.read_stored(row.notes, len(form.bars)), concert.starts, concert.lengths)
        for row in (one, other)
    ]
    found = compare(*sides)
    return Beside(one, other, form, found, tuple(_disputed(found, form)))


def _disputed(found: Agreement, form: SoloForm) -> list[Disputed]:
    by_bar: dict[int, list[Pair]] = {}
    for pair in found.differences:
        if pair.kind != "spelling":
            by_bar.setdefault(pair.bar, []).append(pair)
    return [
        Disputed(bar, form.bars[bar].number, form.bars[bar].chorus, tuple(_row(pair, form) for pair in pairs))
        for bar, pairs in sorted(by_bar.items())
    ]


def _row(pair: Pair, form: SoloForm) -> dict[str, str]:
    note = pair.key or pair.given
    assert note is not None
    named = [(side.pitch + form.shift).display if side else "nothing" for side in (pair.key, pair.given)]
    beat = note.at * form.bars[pair.bar].metre.unit / 4 + 1
    return {"beat": f"{float(beat):g}", "one": named[0], "other": named[1], "what": WORDS[pair.kind]}


def drawn(found: Beside) -> list[dict[str, Any]]:
    """Both versions for a page: who wrote it, the staves, the sound."""
    sides = []
    for which, row in ((ONE, found.one), (OTHER, found.other)):
        bars = found.bars_of(which)
        line = solo_line(found.form, bars, title=f"{row.solo.player}, by {row.solo.written_by.name}")
        tempo = (row.solo.recording.tempo if row.solo.recording else None) or 120
        sides.append({
            "row": row, "which": which, "by": row.solo.written_by.name, "engraved": engrave(line, written=written(line, found.form, bars)),
            "sound": in_sound(line, tempo), "tempo": tempo,
        })  # fmt: skip
    return sides


def choices_of(posted: Mapping[str, str], disputed: Sequence[Disputed]) -> dict[int, str]:
    return {bar.bar: posted.get(f"bar-{bar.bar}", "") for bar in disputed}


def pair_of(one: Solo, other: Solo) -> tuple[SoloRevision, SoloRevision]:
    """The newest kept notes of both. Raises `NotBeside`."""
    rows = [selectors.newest(solo) for solo in (one, other)]
    if rows[0] is None or rows[1] is None:
        raise NotBeside("One of the two has no kept notes yet")
    return rows[0], rows[1]
