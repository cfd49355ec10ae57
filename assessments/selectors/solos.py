"""Solos in assignments: which can be asked about, which a player can hand in, and what was handed in beside the key."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.db.models import Max, QuerySet
from django.urls import reverse

from studio.instruments import CONCERT, INSTRUMENTS
from tunes.models import Solo, SoloRevision, Tune
from tunes.solos import selectors
from tunes.solos.agreement import Agreement, Pair, compare
from tunes.solos.bars import SoloForm
from tunes.solos.notes import Sounding, sounding

from ..models import Step, Submission

SHOWN = 60  # differences that one page tells
WORDS = {
    "rhythm": "at another place", "octave": "in another octave", "spelling": "spelled otherwise", "other": "another note", "missing": "left out",
    "extra": "not in the other",
}  # fmt: skip


def solos_to_ask(user: Any, tune: Tune) -> list[tuple[int, str]]:
    """The solos of a tune that an instructor may ask about, with kept notes, as choices. One query."""
    rows: Any = selectors.solos(user, tune)
    rows = rows.filter(notes_kept__gt=0)[:60]
    return [(row.pk, f"{row.player}, {row.notes_kept} notes, by {row.written_by.name}") for row in rows]


def solos_to_hand_in(user: Any, tune: int) -> QuerySet[SoloRevision]:
    """The newest kept notes of every solo that a player wrote over a tune, newest first."""
    newest = (
        Solo.objects.filter(written_by=user, revision__version__tune=tune)
        .annotate(top=Max("revisions__pk"))
        .values("top")
    )
    return SoloRevision.objects.filter(pk__in=newest, count__gt=0).select_related("solo").order_by("-created")


@dataclass(frozen=True)
class HandedSolo:
    """A solo as it was handed in: its bars as the player reads them, and how it agrees with the key (None: there is none)."""

    kept: SoloRevision
    form: SoloForm
    agreement: Agreement | None
    rows: tuple[dict[str, Any], ...] = ()

    @property
    def more(self) -> int:
        return max(0, len(self.agreement.differences) - SHOWN) if self.agreement else 0


def handed_solo(submission: Submission, step: Step) -> HandedSolo | None:
    """What stands on the page of a solo that was handed in; None for a hand-in without one."""
    kept = submission.solo
    if kept is None:
        return None
    solo = kept.solo
    reader = INSTRUMENTS.get(solo.instrument) or INSTRUMENTS.get(submission.attempt.player.instrument) or CONCERT
    form = selectors.form_of(solo, reader)
    found = _agreement(kept, step, form)
    rows = tuple(_row(pair, form) for pair in found.differences[:SHOWN]) if found else ()
    return HandedSolo(kept, form, found, rows)


def notes_named(found: HandedSolo) -> list[tuple[str, list[tuple[int, str]]]]:
    """Every note of a solo that was handed in, bar by bar, for a choice: (bar, [(place among the notes, words)])."""
    rows: dict[str, list[tuple[int, str]]] = {}
    many = len({bar.chorus for bar in found.form.bars}) > 1
    for place, note in enumerate(_sounding(found.kept, found.form)):
        bar = found.form.bars[note.bar]
        name = f"{f'chorus {bar.chorus}, ' if many else ''}bar {bar.number}"
        beat = float(note.at * bar.metre.unit / 4 + 1)
        rows.setdefault(name, []).append((place, f"{name}, beat {beat:.3g}, {(note.pitch + found.form.shift).display}"))
    return list(rows.items())


def note_named(submission: Submission, place: int) -> str:
    """The words of one note of a solo that was handed in; "" for none."""
    found = handed_solo(submission, submission.attempt.step)
    rows = dict(row for _, notes in notes_named(found) for row in notes) if found else {}
    return rows.get(place, "")[:60]


def _sounding(kept: SoloRevision, form: SoloForm) -> tuple[Sounding, ...]:
    return sounding(selectors.read_stored(kept.notes, len(form.bars)), form.starts, form.lengths)


def _agreement(kept: SoloRevision, step: Step, form: SoloForm) -> Agreement | None:
    """Beside the key that the step names, where it covers the same bars."""
    key = SoloRevision.objects.select_related("solo").filter(pk=step.options.get("kept") or 0).first()
    if key is None or selectors.covers(key.solo) != selectors.covers(kept.solo):
        return None
    first, last = int(step.options.get("first") or 1), int(step.options.get("last") or len(form.bars))
    one, other = ([note for note in _sounding(row, form) if first <= note.bar + 1 <= last] for row in (key, kept))
    return compare(one, other)


def _row(pair: Pair, form: SoloForm) -> dict[str, Any]:
    """One difference in words, in the pitch of the form."""
    bar = form.bars[pair.bar]
    named = {
        side: (note.pitch + form.shift).display if note else ""
        for side, note in (("key", pair.key), ("given", pair.given))
    }
    note = pair.key or pair.given
    assert note is not None
    beat = note.at * bar.metre.unit / 4 + 1
    return {"bar": bar.number, "chorus": bar.chorus, "beat": f"{float(beat):g}", "what": WORDS[pair.kind], **named}


def others_of(sent: Submission) -> list[Submission]:
    """The newest solo that each other player handed in to the same step, over the same bars. One query."""
    rows = (
        Submission.objects.filter(attempt__step=sent.attempt.step_id, solo__isnull=False)
        .exclude(attempt__player=sent.attempt.player_id)
        .select_related("solo__solo", "attempt__player")
        .order_by("attempt__player__name", "-pk")
    )
    found: dict[int, Submission] = {}
    for row in rows:
        found.setdefault(row.attempt.player_id, row)
    own = sent.solo.solo if sent.solo else None
    return [
        row for row in found.values() if own and row.solo and selectors.covers(row.solo.solo) == selectors.covers(own)
    ]


def to_write(step: Step, player: Any) -> list[tuple[str, str]]:
    """Where a player writes what the step asks: the solos of theirs over the same bars, as (address, words), and a new one. Two queries."""
    key = SoloRevision.objects.select_related("solo").filter(pk=step.options.get("kept") or 0).first()
    asked = key.solo if key else None
    mine = Solo.objects.filter(written_by=player, revision__version__tune=step.assignment.tune_id).order_by("-changed")[
        :6
    ]
    first, last = step.options.get("first") or 1, step.options.get("last")
    part = {"bars": f"{first}-{last}"} if asked and last else {}
    only = f"?{urlencode(part)}" if part else ""
    rows = [
        (reverse("tunes:solo-write", args=[solo.pk]) + only, f"Go on with {solo.player}")
        for solo in mine
        if asked is None or (selectors.covers(solo), solo.recording_id) == (selectors.covers(asked), asked.recording_id)
    ]
    fields: dict[str, Any] = {}
    if asked:
        fields = {
            "revision": asked.revision_id, "recording": asked.recording_id, "player": asked.player, "instrument": asked.instrument,
            "first_chorus": asked.first_chorus, "first_bar": asked.first_bar, "last_chorus": asked.last_chorus,
            "last_bar": asked.last_bar,
        }  # fmt: skip
    query = urlencode({name: value for name, value in (fields | part).items() if value})
    address = reverse("tunes:solo-new", args=[step.assignment.tune_id])
    return [*rows, (f"{address}?{query}" if query else address, "Begin" if not rows else "Begin another")]
