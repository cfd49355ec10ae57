"""The waveform of a take, drawn in the background: decoding a whole take is most of the work that its arrival makes."""

from __future__ import annotations

import datetime as dt

from drills.takes.models import Take
from studio.jobs import start_job
from studio.models import Job
from tunes.audio import SoundRefused, peaks

KIND = "draw-take"
AT_ONCE = 20  # takes of one round
UNREADABLE = [0]  # a flat line: the page asks no more


def ask(take: Take) -> Job:
    return start_job(take.player, KIND, {"take": take.pk})


def draw(pk: int) -> None:
    """Work the waveform of a take out and keep it. Safe to repeat: the same sound has the same shape."""
    take = Take.objects.filter(pk=pk, gone=None).exclude(file="").first()
    if take is None:
        return
    try:
        with take.file.open("rb") as file:
            heights = peaks(file, take.media_type, Take.PEAKS)
    except (SoundRefused, OSError):
        heights = []
    Take.objects.filter(pk=pk, gone=None).update(peaks=heights or UNREADABLE)


def draw_missing(now: dt.datetime) -> int:
    """A part of the daily round: takes whose job was lost."""
    rows = list(
        Take.objects.filter(peaks=[], gone=None, created__lt=now).order_by("pk").values_list("pk", flat=True)[:AT_ONCE]
    )
    for pk in rows:
        draw(pk)
    return len(rows)
