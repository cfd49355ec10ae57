"""What writes takes: keeping one, giving it to an ensemble, deleting it, what is said about it, the programme's rule."""

from __future__ import annotations

import datetime as dt
import hashlib
import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from drills.takes.models import QuickWords, Take, TakeComment, TakeRule
from drills.takes.plans import Plan
from drills.takes.played import Spot, spot_in_words
from drills.takes.rule import kept_since
from studio.models import Ensemble, User
from studio.notices import notify_once
from tunes.audio import Sound, SoundRefused, inspect, settled

MOST_BYTES = 24 << 20
MOST_SECONDS = 12 * 60
MOST_SPOKEN_BYTES = 4 << 20
MOST_SPOKEN_SECONDS = 60
SPARE = 2.0  # seconds that a browser may go on after it was told to stop

AFTER_KEPT: list[Callable[[Take], Any]] = []
"""Called with every take that is new here, once that is sure: background work on it begins here."""


class AlreadyAnswered(Exception):
    """A player answers a comment once."""


@dataclass(frozen=True)
class Heard:
    """An upload that was looked at: its bytes as they are stored, and what it is."""

    sound: Sound
    content: bytes

    @property
    def digest(self) -> str:
        return hashlib.sha256(self.content).hexdigest()


def looked_at(upload: UploadedFile, *, bytes_: int = MOST_BYTES, seconds: float = MOST_SECONDS) -> Heard:
    """Decode both ends of an upload and make it seekable: what a sender waits for, and no more. The rest is background work.
    Raises `SoundRefused` with the reason and what to do."""
    size = upload.size or 0
    if size > bytes_:
        raise SoundRefused(
            f"The recording is larger than {bytes_ >> 20} MB, so that a whole ensemble's takes fit on the programme's disk. "
            "Record fewer choruses."
        )
    sound = inspect(upload, size)
    if sound.duration > seconds + SPARE:
        long = f"{seconds / 60:.0f} minutes" if seconds > 60 else f"{seconds:.0f} seconds"
        raise SoundRefused(
            f"The recording is longer than {long}: nobody can hear that out for a whole ensemble. Make it shorter."
        )
    content = settled(upload, sound.media_type)
    if content is None:
        upload.seek(0)
        content = upload.read()
    return Heard(sound, content)


@dataclass(frozen=True)
class Circumstances:
    """How a take was made, as the page that recorded it says."""

    tempo: int
    starts_at: float
    choruses: int = 1
    swing: float = 1.0
    heard_with: str = Take.HeardWith.CLICK
    leak: float | None = None
    made: dt.datetime | None = None


def kept_before(*, player: User, token: uuid.UUID) -> Take | None:
    """The take that was sent under this token already."""
    return Take.objects.filter(player=player, token=token).first()


def keep_take(*, player: User, plan: Plan, heard: Heard, about: Circumstances, token: uuid.UUID) -> Take:
    """Keep a take. The same token again is the same take, whatever else came with it."""
    now = timezone.now()
    take = Take(
        player=player,
        kind=plan.kind,
        revision_id=plan.revision,
        line_id=plan.line,
        query=plan.query[:1000],
        title=plan.title,
        instrument=plan.instrument,
        tempo=about.tempo,
        swing=about.swing,
        starts_at=min(about.starts_at, heard.sound.duration),
        choruses=about.choruses,
        heard_with=about.heard_with,
        leak=about.leak,
        played=plan.played,
        media_type=heard.sound.media_type,
        size=len(heard.content),
        duration=heard.sound.duration,
        digest=heard.digest,
        token=token,
        made=min(about.made or now, now),
    )
    try:
        with transaction.atomic():
            take.file.save("take", ContentFile(heard.content), save=False)
            take.save()
            for begin in AFTER_KEPT:
                transaction.on_commit(partial(begin, take))
    except IntegrityError:  # the other try was faster: its file is the one
        take.file.storage.delete(take.file.name or "")
        return Take.objects.get(player=player, token=token)
    return take


def give(*, take: Take, ensemble: Ensemble | int) -> None:
    """Let those who lead an ensemble hear it."""
    pk = ensemble if isinstance(ensemble, int) else ensemble.pk
    Take.objects.filter(pk=take.pk).update(ensemble=pk)
    take.ensemble_id = pk


def drop_file(take: Take, why: str, *, now: dt.datetime | None = None) -> None:
    """Delete its sound and everything spoken about it; what was written stays. Twice does it once."""
    with transaction.atomic():
        row = Take.objects.select_for_update().get(pk=take.pk)
        names = [(row.file.storage, row.file.name or "")] if row.file else []
        for comment in row.comments.exclude(file=""):
            names.append((comment.file.storage, comment.file.name or ""))
            comment.file = ""
            comment.save(update_fields=["file"])
        if row.gone is None:
            row.file, row.gone, row.gone_why, row.peaks = "", now or timezone.now(), why[:120], []
            row.save(update_fields=["file", "gone", "gone_why", "peaks"])
        for storage, name in names:
            transaction.on_commit(partial(storage.delete, name))


def remove(*, take: Take) -> None:
    """The player throws a take away: with everything, unless it was given to an ensemble, where the words about it stay."""
    if take.ensemble_id is None:
        take.delete()
    else:
        drop_file(take, "Deleted by the player")


def tidy(now: dt.datetime | None = None) -> int:
    """What the rule says to delete is deleted; returns how many takes that were. Safe to call at any time."""
    now = now or timezone.now()
    since = kept_since(TakeRule.current().months, now)
    if since is None:
        return 0
    old = list(Take.objects.filter(gone=None, made__lt=since))
    for take in old:
        drop_file(take, "Deleted by the programme's rule", now=now)
    return len(old)


def comment(
    *, take: Take, by: User, spot: Spot, token: uuid.UUID, text: str = "", spoken: Heard | None = None
) -> TakeComment:
    """Say something at a bar and beat; the same form twice says it once. The player is told once until they look."""
    row = TakeComment(take=take, by=by, chorus=spot.chorus, bar=spot.bar, beat=spot.beat, text=text[:1000], token=token)
    if spoken is not None:
        row.media_type, row.size, row.digest = spoken.sound.media_type, len(spoken.content), spoken.digest
        row.seconds = spoken.sound.duration
    try:
        with transaction.atomic():
            if spoken is not None:
                row.file.save("spoken", ContentFile(spoken.content), save=False)
            row.save()
    except IntegrityError:
        if row.file:
            row.file.storage.delete(row.file.name or "")
        return TakeComment.objects.get(take=take, token=token)
    notify_once(take.player, "reviewed", f"Comments on your take: {take.title}", reverse("drills:take", args=[take.pk]))
    return row


def take_back(*, comment: TakeComment) -> None:
    comment.delete()


def answer(*, comment: TakeComment, text: str) -> None:
    """The player's one answer. Raises `AlreadyAnswered`."""
    done = TakeComment.objects.filter(pk=comment.pk, answered=None).update(answer=text[:500], answered=timezone.now())
    if not done:
        raise AlreadyAnswered
    where = spot_in_words(comment.take, Spot(comment.chorus, comment.bar, comment.beat))
    notify_once(
        comment.by,
        "answered",
        f"{comment.take.player.name} has answered: {comment.take.title}, {where}",
        reverse("drills:take", args=[comment.take_id]),
    )


def say_on_the_whole(*, take: Take, words: dict[str, str]) -> None:
    """The programme's questions about a take as a whole, each with one of its words; those left out are not said."""
    known = {question: set(choices) for question, choices in TakeRule.current().rubric}
    kept = {question: word for question, word in words.items() if word in known.get(question, ())}
    Take.objects.filter(pk=take.pk).update(rubric=kept)
    take.rubric = kept


def set_rule(*, months: int, rubric: Sequence[tuple[str, Sequence[str]]]) -> TakeRule:
    rule = TakeRule.objects.order_by("pk").first() or TakeRule()
    rule.months, rule.rubric = months, [[question, list(words)] for question, words in rubric]
    rule.save()
    return rule


def set_quick_words(*, user: User, words: Sequence[str]) -> None:
    QuickWords.objects.update_or_create(user=user, defaults={"words": list(words)})
