"""The shape of a sound, drawn once when its file comes in and kept small: at most `MOST` numbers however long it is."""

from __future__ import annotations

import datetime as dt
from typing import Any

from studio.jobs import JobError, Progress, handler
from tunes.audio import SoundRefused, peaks
from tunes.models import RecordingFile
from tunes.recordings.services import WAVE

MOST = 2400
FINEST = 20  # a second
AT_ONCE = 20  # files of one round


def per_second(duration: float) -> int:
    """How many peaks a second of a sound so long (seconds) gets.

    >>> per_second(100.0), per_second(1200.0), per_second(7200.0)
    (20, 2, 1)
    """
    return max(1, min(FINEST, int(MOST / max(duration, 1.0))))


def draw(sound: RecordingFile) -> None:
    """Work the shape out and keep it. Raises `SoundRefused` for a file that cannot be read to its end."""
    rate = per_second(sound.duration)
    with sound.file.open("rb") as file:
        heights = peaks(file, sound.media_type, rate)
    RecordingFile.objects.filter(pk=sound.pk).update(wave={"per_second": rate, "heights": heights})


@handler(WAVE)
def draw_wave(progress: Progress) -> dict[str, Any]:
    """Safe to repeat: the same file has the same shape."""
    sound = RecordingFile.objects.filter(pk=progress.payload["sound"]).first()
    if sound is None:
        return {}  # replaced meanwhile; the new one has a job of its own
    try:
        draw(sound)
    except SoundRefused as error:
        raise JobError(str(error)) from error
    return {}


def draw_missing(now: dt.datetime) -> int:
    """A part of the daily round. Those that have none yet: files from before, and whose job was lost. What cannot be read is marked as drawn empty."""
    rows = list(RecordingFile.objects.filter(wave={}).order_by("pk")[:AT_ONCE])
    for sound in rows:
        try:
            draw(sound)
        except (SoundRefused, OSError):
            RecordingFile.objects.filter(pk=sound.pk).update(wave={"per_second": 1, "heights": []})
    return len(rows)
