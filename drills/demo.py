"""The demo's practice: three weeks of logs, bars to come back to, two packs."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from typing import Any

from django.utils import timezone

from drills.lines.build import Recipe
from drills.services import packs, practice
from drills.wishes import Wish
from studio.models import User
from tunes.models import ChartRevision
from tunes.selectors import latest_revisions

RECIPES = (
    Recipe("arpeggios", "root"), Recipe("guide-tones", "3"), Recipe("scales", "nearest"), Recipe("arpeggios", "nearest"),
    Recipe("guide-tones", "7", first_bar=1, last_bar=8),
)  # fmt: skip
WENT = ("fell apart", "with slips", "steady", "steady", "steady", "with ease")
NOTES = ("", "", "", "Bridge still slow.", "Breathe before bar 9.", "Sang it first.")


def load_demo(world: Any) -> None:
    """Logs of most players, cues for a few, a pack for two of the ensembles."""
    revisions = list(latest_revisions()[:6])
    if not revisions:
        return
    rng = random.Random(world.seed)
    now = timezone.now()
    for number, key in enumerate(sorted(world.ensembles)):
        for place, player in enumerate(world.players(key)):
            if place % 4 != 3:
                _weeks(player, revisions[number % 2 :: 2], rng, now)
            if place % 3 == 0:
                practice.cue_bars(
                    user=player, revision=revisions[number % len(revisions)], bars=(4, 6, 7),
                    why="Missed in the function quiz", source="demo",
                )  # fmt: skip
    wishes = [Wish(recipe=recipe) for recipe in RECIPES[:3]]
    for place, key in enumerate(("combo", "second")):
        if key in world.ensembles:
            packs.make_pack(
                ensemble=world.ensembles[key], revision=revisions[place], wishes=wishes[: 3 - 2 * place], with_chart=True,
                by=world.leader(key),
            )  # fmt: skip


def _weeks(player: User, revisions: list[ChartRevision], rng: random.Random, now: dt.datetime) -> None:
    """A few practices a week, tempo creeping up."""
    for index, revision in enumerate(revisions[:2]):
        tempo = rng.randrange(66, 100, 2)
        for days in sorted(rng.sample(range(1, 21), 4), reverse=True):
            went = rng.choice(WENT)
            practice.record(
                user=player, revision=revision, wish=Wish(recipe=RECIPES[(index + days) % len(RECIPES)]), tempo=tempo,
                went=went, note=rng.choice(NOTES), token=str(uuid.UUID(int=rng.getrandbits(128))),
                now=now - dt.timedelta(days=days, minutes=rng.randrange(600)),
            )  # fmt: skip
            tempo += 4 if went in ("steady", "with ease") else 0
