"""What demo players did for themselves: quizzes, tunes brought back in several keys, a melody half taken down, notes."""

from __future__ import annotations

import datetime as dt
import random
import uuid
from typing import Any

from django.utils import timezone

from drills.lines.build import Recipe
from drills.services.practice import record
from drills.wishes import Wish
from tunes.models import ChartRevision, OwnNote, PhraseByEar, Tune

from ..models import OwnQuiz
from ..own_quiz import Wish as QuizWish
from ..selectors.melody import melody_page
from ..services.answer import Save
from ..services.own_quiz import NothingToAsk, hand_in, save, start
from ..services.recall import recalled
from .answers import answers_for

KEYS = ("C major", "F major", "Bb major", "Eb major", "G major", "Ab major", "D major")
NOTES = ((3, "Breathe before this bar, not in it."), (9, "The bass goes down by half steps: hear it first."))
MEANINGS = ("Somebody waits where the road ends.", "It is late, and she is not angry.", "Perhaps it was only the wind.")


def load_own(world: Any) -> None:
    """Two players of the first ensemble, the first of them with something in every state."""
    rng = random.Random(world.seed)
    for place, player in enumerate(world.players("first")[:2]):
        _quizzes(player, rng, open_one=place == 0)
        _recalls(player, place)
        _melody(player)
        _notes(player)
        _weekly(player, rng)


def _weekly(player: Any, rng: random.Random) -> None:
    """One drill every week of two months, a little faster each time it held."""
    revision = ChartRevision.objects.filter(version__tune__title="Cobalt Street", version__is_agreed=True).first()
    if revision is None:
        return
    for week in range(8, -1, -1):
        went = "with slips" if week in (5, 2) else "steady"
        record(
            user=player, revision=revision, wish=Wish(recipe=Recipe("scales", "root")), tempo=112 - 5 * week, went=went,
            token=str(uuid.UUID(int=rng.getrandbits(128))), now=timezone.now() - dt.timedelta(weeks=week, minutes=90),
        )  # fmt: skip


def _quizzes(player: Any, rng: random.Random, *, open_one: bool) -> None:
    for days, skill in ((6, 0.5), (2, 0.8), (0, 0.6)):
        try:
            quiz = start(player=player, wish=QuizWish(kind="function"), seed=rng.getrandbits(31))
        except NothingToAsk:
            return
        answers = answers_for(quiz.questions, skill, rng, written=quiz.parts[0]["written"])
        saves = [Save(name, text, number) for number, (name, text) in enumerate(answers.items(), 1)]
        client = uuid.UUID(int=rng.getrandbits(128), version=4)
        if days or not open_one:
            save(quiz_id=quiz.pk, player_id=player.pk, client=client, saves=saves)
            hand_in(quiz_id=quiz.pk, player=player)
        else:
            save(quiz_id=quiz.pk, player_id=player.pk, client=client, saves=saves[:3])
        then = timezone.now() - dt.timedelta(days=days)
        OwnQuiz.objects.filter(pk=quiz.pk, handed_in__isnull=False).update(started=then, handed_in=then)


def _recalls(player: Any, place: int) -> None:
    tune = Tune.objects.filter(title="Cobalt Street").first()
    if tune is None:
        return
    for number, key in enumerate(KEYS[: 7 - 3 * place]):
        then = timezone.now() - dt.timedelta(days=30 - 4 * number)
        recalled(player_id=player.pk, tune_id=tune.pk, what="changes", percent=82 + number, key=key, now=then)
    recalled(
        player_id=player.pk, tune_id=tune.pk, what="numbers", percent=64, now=timezone.now() - dt.timedelta(days=9)
    )


def _melody(player: Any) -> None:
    """The first phrase right, the second begun."""
    tune = Tune.objects.filter(phrases__isnull=False, versions__melody__isnull=False).order_by("title").first()
    if tune is None:
        return
    now = timezone.now()
    lines = melody_page(player, tune, now).lines
    for line, notes, taken in zip(
        lines, (lines[0].kept, lines[1].kept[:3] if len(lines) > 1 else ()), (now, None), strict=False
    ):
        text = " ".join(note.text for note in notes)
        PhraseByEar.objects.create(
            user=player, tune=tune, first=line.first, last=line.last, text=text, right=len(notes), notes=line.notes,
            taken=taken, checked=now,
        )  # fmt: skip


def _notes(player: Any) -> None:
    tune = Tune.objects.filter(title="Paper Lantern Weather").first()
    if tune is None:
        return
    rows = [OwnNote(user=player, tune=tune, bar=bar, text=text) for bar, text in NOTES]
    rows += [OwnNote(user=player, tune=tune, line=line, text=text) for line, text in enumerate(MEANINGS, 1)]
    OwnNote.objects.bulk_create(rows)
