"""Takes of the demo: played by arithmetic, a little early or late, so that there is something to say at a bar."""

from __future__ import annotations

import datetime as dt
import io
import math
import random
import sys
import uuid
import wave
from array import array
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from drills.models import Take, TakeComment
from drills.takes import services
from drills.takes.making import plan_named
from drills.takes.plans import Plan
from drills.takes.played import Spot
from studio.models import User
from tunes.audio import as_webm
from tunes.models import ChartRevision

RATE = 12_000
STARTS = 2.2  # seconds before the first bar
RUBRIC = (
    ("Time", ("lost", "found again", "steady", "settled")),
    ("Changes", ("some heard", "most heard", "all heard")),
    ("Sound", ("thin", "even", "its own")),
)
SAID = (
    (1, 2.0, "The 3rd is the point of this chord. Sing it before you play it."),
    (3, 0.0, "ahead of the beat"),
    (6, 1.5, "You rush in, then sit back. Breathe in the bar before."),
)
ANSWER = "I hear it now. The low one still cracks when I hurry."
# One period of a reed-like tone: odd partials first (common practice, no source).
_WAVE = [sum(math.sin(2 * math.pi * n * i / 256) / n**1.3 for n in (1, 2, 3, 5, 7)) for i in range(256)]


def set_words() -> None:
    services.set_rule(months=12, rubric=RUBRIC)


def demo_take(
    *, player: User, revision: ChartRevision, query: str, tempo: int, days: float, rng: random.Random
) -> Take:
    """A drill of the chart as it was played `days` ago."""
    plan = plan_named(player, kind=Take.Kind.DRILL, revision=revision.pk, line=None, query=query, tempo=tempo)
    sound = as_webm(io.BytesIO(_rendered(plan, tempo, rng)))
    return services.keep_take(
        player=player,
        plan=plan,
        heard=services.looked_at(SimpleUploadedFile("take", sound)),
        about=services.Circumstances(
            tempo=tempo, starts_at=STARTS, heard_with=Take.HeardWith.CHANGES, leak=-52.0,
            made=timezone.now() - dt.timedelta(days=days),
        ),
        token=uuid.UUID(int=rng.getrandbits(128), version=4),
    )  # fmt: skip


def say(take: Take, by: User, rng: random.Random, *, answered: bool) -> None:
    """What an instructor said about it, and the words for the whole."""
    bars = len(take.played["bars"])
    rows = []
    for bar, beat, text in SAID[: 2 + rng.randrange(2)]:
        token = uuid.UUID(int=rng.getrandbits(128), version=4)
        rows.append(services.comment(take=take, by=by, spot=Spot(1, bar % bars, beat), token=token, text=text))
    TakeComment.objects.filter(take=take).update(created=take.made + dt.timedelta(hours=20))
    services.say_on_the_whole(take=take, words={"Time": "steady", "Changes": "most heard"})
    if answered:
        services.answer(comment=rows[0], text=ANSWER)


def _rendered(plan: Plan, tempo: int, rng: random.Random) -> bytes:
    """A WAV file of the notes, each within 40 ms of its place; one in twelve is left out."""
    second = 60 / tempo
    bars = plan.sound["bars"]
    samples = array("h", bytes(2 * int(RATE * (STARTS + (bars[-1][1] + bars[-1][2]) * second + 1))))
    for start, duration, midi in plan.sound["notes"]:
        if rng.random() < 1 / 12:
            continue
        _lay(samples, STARTS + start * second + rng.gauss(0.0, 0.02), duration * second * 0.9, midi)
    if sys.byteorder == "big":
        samples.byteswap()
    out = io.BytesIO()
    with wave.open(out, "wb") as sound:
        sound.setparams((1, 2, RATE, len(samples), "NONE", ""))
        sound.writeframes(samples.tobytes())
    return out.getvalue()


def _lay(samples: array[int], start: float, length: float, midi: int) -> None:
    first, count = int(max(0.0, start) * RATE), int(length * RATE)
    step = 256 * 440 * 2 ** ((midi - 69) / 12) / RATE
    for n in range(min(count, len(samples) - first)):
        level = 5200 * min(1.0, n / 300) * min(1.0, (count - n) / 500)
        samples[first + n] = int(level * _WAVE[int(n * step) & 255])


def any_of(world: Any) -> bool:
    """Whether the demo still wants a take: a handful is enough to see every state."""
    world.takes_made = getattr(world, "takes_made", 0) + 1
    return bool(world.takes_made <= 5)
