"""What writes solos. Every function is one transaction; what was written is never lost or rewritten."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from studio.models import Ensemble, Membership, User
from studio.notices import notify_many
from tunes.models import (
    ChartRevision,
    Recording,
    Solo,
    SoloAnswer,
    SoloAsk,
    SoloDraft,
    SoloRevision,
    SoloWord,
)
from tunes.solos.bars import Covers
from tunes.solos.notes import Bars, count, empty, write_notes

FROM_OTHER_WINDOW = "of another window"


@transaction.atomic
def begin(
    *,
    by: User,
    revision: ChartRevision,
    recording: Recording | None,
    player: str,
    instrument: str,
    covers: Covers,
    rights: str = "",
    bars: int,
) -> Solo:
    """A new solo with an empty draft of that many bars."""
    solo = Solo.objects.create(
        revision=revision, recording=recording, player=player, instrument=instrument, rights=rights, written_by=by,
        first_chorus=covers.first_chorus, first_bar=covers.first_bar, last_chorus=covers.last_chorus,
        last_bar=covers.last_bar,
    )  # fmt: skip
    SoloDraft.objects.create(solo=solo, notes=write_notes(empty(bars)))
    return solo


@transaction.atomic
def take_from_file(*, solo: Solo, bars: Bars) -> SoloDraft:
    """The notes of a file become the draft. What stood there is kept as notes of their own; open windows are told."""
    draft = SoloDraft.objects.select_for_update().get(solo=solo)
    if draft.notes.get("notes"):
        _keep(solo, draft.notes, by=solo.written_by, why="before a file was read")
    draft.notes, draft.client = write_notes(bars), "a file"
    draft.serial += 1
    draft.save()
    return draft


@dataclass(frozen=True)
class Saved:
    """What became of a draft: `written`, or `other` when another window wrote since."""

    written: bool
    draft: SoloDraft


@transaction.atomic
def save_draft(*, solo: Solo, bars: Bars, serial: int, client: str, over: bool = False) -> Saved:
    """Write the draft when `serial` is the newest, or when this very window wrote last (an answer was lost).

    `over`: write it anyway; what stood there is kept as notes of their own, so that neither is thrown away.
    """
    draft, _made = SoloDraft.objects.select_for_update().get_or_create(solo=solo)
    again = bool(client) and draft.client == client
    if serial != draft.serial and not over and not again:
        return Saved(False, draft)
    notes = write_notes(bars)
    if notes == draft.notes:  # sent twice by a window on its way out: what others hold is still the newest
        if draft.client != client[:40]:
            draft.client = client[:40]
            draft.save(update_fields=["client"])
        return Saved(True, draft)
    if over and serial != draft.serial and draft.notes != notes:
        _keep(solo, draft.notes, by=solo.written_by, why=FROM_OTHER_WINDOW)
    draft.notes, draft.client = notes, client[:40]
    draft.serial += 1
    draft.save()
    return Saved(True, draft)


@transaction.atomic
def keep(*, solo: Solo, bars: Bars, by: User, why: str = "") -> SoloRevision:
    """New immutable notes, unless the newest ones are the same."""
    return _keep(solo, write_notes(bars), by=by, why=why, total=count(bars))


def _keep(solo: Solo, notes: dict[str, Any], *, by: User, why: str = "", total: int | None = None) -> SoloRevision:
    Solo.objects.select_for_update().get(pk=solo.pk)
    newest = solo.revisions.first()
    if newest is not None and newest.notes == notes:
        return newest
    number = (solo.revisions.aggregate(most=Max("number"))["most"] or 0) + 1
    if total is None:
        total = sum("pitch" in row for row in notes.get("notes", ()))
    made = SoloRevision(solo=solo, number=number, notes=notes, by=by, why=why, count=total)
    made.save()
    solo.save(update_fields=["changed"])
    return made


@transaction.atomic
def share(*, solo: Solo, ensemble: Ensemble | None, url: str) -> None:
    """Open a solo to an ensemble, or to nobody. Those who lead it are told, once for each ensemble."""
    before = solo.shared_with_id
    solo.shared_with = ensemble
    solo.shared_on = timezone.now() if ensemble else None
    solo.save(update_fields=["shared_with", "shared_on", "changed"])
    if ensemble is not None and ensemble.pk != before:
        leaders = User.objects.filter(pk__in=Membership.objects.leading().filter(ensemble=ensemble).values("user"))
        text = f"{solo.written_by.name} has written out {solo.player} on {solo.revision.version.tune.title}."
        notify_many(leaders.exclude(pk=solo.written_by_id), "solo", text, url)


def remove(*, solo: Solo) -> None:
    solo.delete()


@transaction.atomic
def say(*, solo: Solo, by: User, kind: str, first: str, last: str, role: str = "", text: str = "") -> SoloWord | None:
    """A person's word on a note or a passage, instead of their earlier one; nothing said takes it back."""
    if not role and not text:
        SoloWord.objects.filter(solo=solo, kind=kind, first=first, by=by).delete()
        return None
    word, _made = SoloWord.objects.update_or_create(
        solo=solo, kind=kind, first=first, by=by, defaults={"last": last, "role": role, "text": text}
    )
    return word


@transaction.atomic
def ask(*, solo: Solo, bars: set[int], by: User) -> None:
    """Ask about exactly these bars (from 0). Answers to bars that stay asked stay."""
    solo.asks.exclude(bar__in=bars).delete()
    known = set(solo.asks.values_list("bar", flat=True))
    SoloAsk.objects.bulk_create(SoloAsk(solo=solo, bar=bar, by=by) for bar in sorted(bars - known))


def answer(*, ask: SoloAsk, player: User, said: dict[str, str]) -> SoloAnswer:
    """The first thing that was said stands: it was said before being told."""
    return SoloAnswer.objects.get_or_create(ask=ask, player=player, defaults={"said": said})[0]


class WouldLose(ValueError):
    """Bars that cannot be changed, because notes, lines or questions stand in them; the message says which and what to do."""


@transaction.atomic
def edit_head(
    *,
    solo: Solo,
    recording: Recording | None,
    player: str,
    instrument: str,
    rights: str,
    covers: Covers,
    before: Covers,
    form: int,
) -> None:
    """What a solo says of itself. `form`: bars of a chorus. Raises `WouldLose` when notes would fall out of the bars, or would move
    although they are kept already."""
    row = Solo.objects.select_for_update().get(pk=solo.pk)
    by = _bars_before(before, covers, form)
    count_now = len(covers.places(form))
    if by and solo.revisions.exists():
        raise WouldLose(
            "It is kept already, so its first bar stays: lines and readings count from it. Let it end later instead, or begin another solo"
        )
    draft = SoloDraft.objects.select_for_update().filter(solo=row).first()
    kept = list(solo.revisions.values_list("notes", flat=True))
    bars = [note["bar"] + by for notes in [*kept, *([draft.notes] if draft else [])] for note in notes.get("notes", ())]
    if bars and not 1 <= min(bars) <= max(bars) <= count_now:
        raise WouldLose("Notes stand in bars that it would no longer cover: empty those bars first, or keep them")
    for name, value in (("recording", recording), ("player", player), ("instrument", instrument), ("rights", rights),
                        ("first_chorus", covers.first_chorus), ("first_bar", covers.first_bar),
                        ("last_chorus", covers.last_chorus), ("last_bar", covers.last_bar)):  # fmt: skip
        setattr(row, name, value)
    row.save()
    if draft and by:
        draft.notes = draft.notes | {
            "notes": [note | {"bar": note["bar"] + by} for note in draft.notes.get("notes", ())]
        }
        draft.serial += 1
        draft.client = "its head"
        draft.save()


def _bars_before(before: Covers, covers: Covers, form: int) -> int:
    """How many bars earlier (or, beyond its end, later) a solo now begins."""
    return (before.first_chorus - covers.first_chorus) * form + before.first_bar - covers.first_bar


@transaction.atomic
def agree(*, by: User, one: Solo, bars: Bars, writers: str) -> SoloRevision:
    """What two writers of the same bars come to, settled by `by`: a solo of that person's own, kept at once and shared with nobody.
    `writers` names the two."""
    solo = Solo.objects.create(
        revision=one.revision, recording=one.recording, player=one.player, instrument=one.instrument, rights=one.rights, written_by=by,
        first_chorus=one.first_chorus, first_bar=one.first_bar, last_chorus=one.last_chorus, last_bar=one.last_bar,
    )  # fmt: skip
    SoloDraft.objects.create(solo=solo, notes=write_notes(bars))
    return _keep(solo, write_notes(bars), by=by, why=f"settled between {writers}"[:80], total=count(bars))
