"""Background work of the solos: a file of notes is read beside the site, never on a page's way."""

from __future__ import annotations

import base64
from typing import Any

from django.urls import reverse

from studio.instruments import CONCERT
from studio.jobs import JobError, Progress, handler, start_job
from studio.models import Job, User
from tunes.interchange.errors import Refused
from tunes.interchange.foreign import read_music
from tunes.models import Solo
from tunes.solos import selectors, services
from tunes.solos.layout import lay_out

KIND = "solo-file"


def start(*, solo: Solo, data: bytes, by: User) -> Job:
    """Read a file into the draft of a solo, in the background."""
    return start_job(by, KIND, {"solo": solo.pk, "file": base64.b64encode(data).decode()}, total=2)


@handler(KIND)
def read_file(progress: Progress) -> dict[str, Any]:
    """Safe to repeat: the same file gives the same draft."""
    solo = Solo.objects.select_related("revision", "written_by").filter(pk=progress.payload["solo"]).first()
    if solo is None:
        raise JobError("The solo has been thrown away meanwhile.")
    progress.step(0, 2, "Reading the file")
    try:
        music = read_music(base64.b64decode(progress.payload["file"]))
    except Refused as error:
        raise JobError(str(error)) from error
    progress.step(1, 2, "Laying the notes into the bars")
    laid = lay_out(music, selectors.form_of(solo, CONCERT))
    if not any(laid.bars):
        raise JobError("No note of the file lies in the bars of this solo. " + " ".join(laid.remarks))
    services.take_from_file(solo=solo, bars=laid.bars)
    Job.objects.filter(pk=progress.job_id).update(payload={"solo": solo.pk})  # the file itself is not kept
    return {
        "next": f"{reverse('tunes:solo-write', args=[solo.pk])}?read={progress.job_id}",
        "remarks": list(laid.remarks),
    }
