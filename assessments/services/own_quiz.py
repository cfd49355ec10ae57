"""Quizzes that players start for themselves: making one, saving answers, handing in.

They are practice: nothing here writes evidence, and no tune is asked whose answers an open assignment still waits for
(`holds.answers_to_come`), neither when the quiz is made nor when it is handed in.
"""

from __future__ import annotations

import secrets
import uuid
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from drills.kinds import question_kind
from drills.marking import Strictness
from drills.models import PracticeCue
from drills.question_kind import Needs
from drills.services.practice import cue_bars
from studio.access import instrument_of
from studio.instruments import INSTRUMENTS
from studio.models import User
from tunes.harmony.pitch.spelling import UNISON, Key, sensible, transposition
from tunes.models import ChartRevision
from tunes.study import chart_of

from ..bars import Bars
from ..called import called_in, interval_to, key_called, next_key
from ..kinds import BY_HEART, KINDS
from ..marks import mark_answers
from ..models import OwnQuiz, Recall
from ..own_quiz import MISSED, NUMBERS, PROGRESSION, Wish
from ..selectors.own_sources import Made, NothingToAsk, made_of
from ..selectors.recall import keys_gone_well
from .answer import CONFLICT, LATE, MAX_TEXT, SAVED, UNKNOWN, Save, Saved
from .recall import recalled

__all__ = ["NothingToAsk", "hand_in", "save", "start"]

STRICTNESS = Strictness(quality=True, alternatives="full")


def start(*, player: User, wish: Wish, seed: int | None = None) -> OwnQuiz:
    """Make a quiz of what was chosen. Raises `NothingToAsk`."""
    seed = secrets.randbits(31) if seed is None else seed
    made = [row for row in made_of(player, wish, seed) if row[3]]
    if not made:
        raise NothingToAsk("This gives nothing to ask. Choose other bars, another kind or another tune.")
    instrument = instrument_of(player, "")
    parts, questions = [], []
    for place, (revision, kind, home, asked) in enumerate(made):
        parts.append(_part(player, revision, kind, home, instrument, wish, seed))
        questions += [{**q, "id": f"{place}.{q['id']}", "part": place} for q in asked]
    return OwnQuiz.objects.create(
        player=player,
        title=_title(wish, made),
        wish=wish.to_json(),
        parts=parts,
        questions=questions,
        asked=[{name: value for name, value in q.items() if name != "key"} for q in questions],
    )


def _title(wish: Wish, made: Sequence[Made]) -> str:
    kinds = {kind for _, kind, _, _ in made}
    named = "By numbers alone" if wish.kind == NUMBERS else KINDS[kinds.pop()].name if len(kinds) == 1 else "A mix"
    tunes = list(dict.fromkeys(revision.version.tune.title for revision, *_ in made))
    where = {MISSED: "what was missed", PROGRESSION: "one progression"}.get(wish.source, "")
    return f"{named}: {where or (tunes[0] if len(tunes) == 1 else f'{len(tunes)} tunes')}"[:200]


def _part(
    player: User, revision: ChartRevision, kind: str, home: str, instrument: str, wish: Wish, seed: int
) -> dict[str, Any]:
    row, key = INSTRUMENTS.get(instrument), Key.parse(home)
    move = row.interval.simple if row else UNISON
    if kind == BY_HEART:
        called = key_called(key, wish.key) or next_key(key, keys_gone_well(player, revision.version.tune_id), seed)
        written = interval_to(key, called, move).name
    else:
        written = transposition(key, sensible(key.transposed(move))).name if row and not row.is_concert else "P1"
    tune = revision.version.tune
    return {
        "revision": revision.pk, "tune": tune.pk, "title": tune.title, "kind": kind, "home": home,
        "instrument": instrument, "written": written,
    }  # fmt: skip


@transaction.atomic
def save(
    *, quiz_id: int, player_id: int, client: uuid.UUID, saves: Sequence[Save]
) -> tuple[OwnQuiz, tuple[Saved, ...]]:
    """Save the fields of one window by the rule of `services.answer`. Raises OwnQuiz.DoesNotExist for somebody else's."""
    quiz = OwnQuiz.objects.select_for_update().get(pk=quiz_id, player=player_id)
    known, now, results = {q["id"] for q in quiz.asked}, timezone.now(), []
    for one in sorted(saves, key=lambda save: save.sequence):
        results.append(_take(quiz, one, str(client), now) if one.question in known else _unknown(one))
    quiz.save(update_fields=["answers"])
    return quiz, tuple(results)


def _unknown(one: Save) -> Saved:
    return Saved(one.question, one.sequence, UNKNOWN, one.text, 0, None)


def _take(quiz: OwnQuiz, one: Save, client: str, now: datetime) -> Saved:
    text, version, writer, sequence, at = quiz.answers.get(one.question) or ("", 0, "", -1, "")
    outcome = SAVED
    if not quiz.is_open:
        outcome = LATE
    elif writer == client and one.sequence <= sequence:
        pass  # a replay, or overtaken by what the same window wrote later
    elif version and writer != client and one.base < version and text != one.text[:MAX_TEXT]:
        outcome = CONFLICT
    else:
        text, version, at = one.text[:MAX_TEXT], version + 1, now.isoformat()
        quiz.answers[one.question] = [text, version, client, one.sequence, at]
    return Saved(one.question, one.sequence, outcome, text, version, datetime.fromisoformat(at) if at else None)


@transaction.atomic
def hand_in(*, quiz_id: int, player: User) -> OwnQuiz:
    """Mark it from its own keys. A second call changes nothing. Raises OwnQuiz.DoesNotExist for somebody else's."""
    quiz = OwnQuiz.objects.select_for_update().get(pk=quiz_id, player=player)
    if not quiz.is_open:
        return quiz
    answers = {question: row[0] for question, row in quiz.answers.items()}
    marks: list[Any] = []
    for place, part in enumerate(quiz.parts):
        asked = [q for q in quiz.questions if q["part"] == place]
        marks += mark_answers(asked, answers, STRICTNESS, home=part["home"], written=part["written"])
    quiz.marks = [
        {
            "question": m.question, "answer": m.answer, "points": m.points, "rule": m.rule, "feedback": m.feedback,
            "understood": m.understood,
        }
        for m in marks
    ]  # fmt: skip
    quiz.points, quiz.out_of, quiz.handed_in = sum(m.points for m in marks), len(marks), timezone.now()
    quiz.save()
    _follow(quiz)
    return quiz


def _follow(quiz: OwnQuiz) -> None:
    """What was missed comes back in the plan, what went right is settled, and what was by heart comes back after days."""
    points = {mark["question"]: mark["points"] for mark in quiz.marks}
    for place, part in enumerate(quiz.parts):
        asked = [q for q in quiz.questions if q["part"] == place]
        bars: dict[int, float] = {}
        of_solo = question_kind(part["kind"]).needs is Needs.SOLO  # its questions count bars as played
        named = _bars_of(part) if of_solo else None
        for q in asked:
            bar = named.written(q) if named else q.get("bar")
            if bar is not None:
                bars[bar] = min(bars.get(bar, 1.0), points[q["id"]])
        right = [bar for bar, least in bars.items() if least >= 1]
        PracticeCue.objects.filter(
            user=quiz.player_id, revision=part["revision"], bar__in=right, settled=None, created__lte=quiz.handed_in
        ).update(settled=quiz.handed_in)
        cue_bars(
            user=quiz.player_id,
            revision=part["revision"],
            bars=[bar for bar, least in bars.items() if least < 1],
            why=f"Missed when you tested yourself: {KINDS[part['kind']].name.lower()}",
            source=f"own:{quiz.pk}",
        )
        if part["kind"] == BY_HEART and asked:
            _recall(quiz, part, asked, points)


def _bars_of(part: Mapping[str, Any]) -> Bars:
    return Bars(chart_of(ChartRevision.objects.values_list("text", flat=True).get(pk=part["revision"])))


def _recall(quiz: OwnQuiz, part: Mapping[str, Any], asked: Sequence[Any], points: Mapping[str, float]) -> None:
    row = INSTRUMENTS.get(part["instrument"])
    key = called_in(part["home"], part["written"], row.interval.simple if row else UNISON)
    numbers = (asked[0].get("context") or {}).get("part") == "numbers"
    recalled(
        player_id=quiz.player_id,
        tune_id=part["tune"],
        what=Recall.What.NUMBERS if numbers else Recall.What.CHANGES,
        percent=round(100 * sum(points[q["id"]] for q in asked) / len(asked)),
        key=key.text if key and not quiz.wish.get("section") else "",
        now=quiz.handed_in,
    )
