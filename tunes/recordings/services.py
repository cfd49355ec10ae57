"""What writes about recordings. Every function is one transaction."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

from django.core.files.uploadedfile import UploadedFile
from django.db import transaction

from studio.jobs import start_job
from studio.models import User
from tunes.audio import Sound
from tunes.models import CautionSeen, FormMark, Listening, Recording, RecordingFile
from tunes.recordings.form_map import Moment

WAVE = "recording-wave"  # the job of tunes.recordings.waves


def keep_sound(*, recording: Recording, upload: UploadedFile, sound: Sound, rights: str, by: User) -> RecordingFile:
    """Store an inspected upload as the recording's sound; an earlier one is replaced and its file deleted."""
    digest = hashlib.sha256()
    for chunk in upload.chunks():
        digest.update(chunk)
    upload.seek(0)
    with transaction.atomic():
        Recording.objects.select_for_update().get(pk=recording.pk)
        old = RecordingFile.objects.filter(recording=recording).first()
        if old is not None:
            _delete(old)
        kept = RecordingFile(
            recording=recording,
            rights=rights,
            original_name=(upload.name or "")[:200],
            media_type=sound.media_type,
            size=upload.size or 0,
            duration=sound.duration,
            digest=digest.hexdigest(),
            uploaded_by=by,
        )
        kept.file.save("sound", upload, save=False)
        kept.save()
        start_job(by, WAVE, {"sound": kept.pk})
    return kept


def remove_sound(*, sound: RecordingFile) -> None:
    with transaction.atomic():
        _delete(sound)


def _delete(sound: RecordingFile) -> None:
    """The row now; the file when the transaction holds."""
    storage, name = sound.file.storage, sound.file.name
    sound.delete()
    if name:
        transaction.on_commit(lambda: storage.delete(name))


def save_marks(*, recording: Recording, moments: Sequence[Moment], by: User) -> None:
    """Replace the whole form map of a recording."""
    with transaction.atomic():
        Recording.objects.select_for_update().get(pk=recording.pk)
        recording.marks.all().delete()
        FormMark.objects.bulk_create(
            FormMark(recording=recording, chorus=m.chorus, bar=m.bar, seconds=m.seconds, label=m.label, by=by)
            for m in moments
        )


def log_listening(*, entry: Listening, player: User, recording: Recording) -> Listening:
    entry.player, entry.recording = player, recording
    entry.save()
    return entry


def caution_seen(*, user: User, name: str) -> None:
    CautionSeen.objects.get_or_create(user=user, name=name[:20])
