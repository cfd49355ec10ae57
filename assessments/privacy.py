"""What the work keeps about a person. Marks and signatures stay for the programme's statistics; what was typed or sent goes."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.utils import timezone

from assessments.models import Attempt
from assessments.selectors.desk import is_out
from studio.privacy.declared import Declared, Fate, declare, names_in
from tunes.privacy import not_held


def released(person: Any) -> set[int]:
    """Ids of the person's attempts whose marks they may see now."""
    groups: dict[int, list[Attempt]] = defaultdict(list)
    for attempt in Attempt.objects.filter(player=person).select_related("step__assignment").order_by("number"):
        groups[attempt.step_id].append(attempt)
    now = timezone.now()
    return {one.pk for group in groups.values() for one in group if is_out(one.step, one, group, now)}


def marks_out(rows: Any, person: Any) -> Any:
    """Marks that are out, of tunes whose chords are not held back."""
    shown = rows.filter(attempt__in=released(person))
    return not_held("attempt__step__assignment__tune")(shown, person)


def evidence_out(rows: Any, person: Any) -> Any:
    """Facts that name no mark that is not out yet."""
    hidden = Attempt.objects.filter(player=person).exclude(points=None).exclude(pk__in=released(person))
    return rows.exclude(attempt__in=hidden)


_SECRET = ("client", "sequence", "token")
_LED = (
    "Assignment.created_by", "Attempt.reviewed_by", "PlannedTune.added_by", "SignOff.by", "SignOff.taken_back_by", "Evidence.by",
    "Comment.by", "MarkOverride.by", "AcceptedAnswer.by", "AcceptedAnswer.withdrawn_by", "KeyChange.by",
    "Leeway.by", "SetList.made_by", "Objection.answered_by", "ReadingQuestion.answered_by",
)  # fmt: skip
declare(*(Declared(f"assessments.{row.partition('.')[0]}", row.partition(".")[2], Fate.KEEP) for row in _LED))
declare(
    Declared("assessments.Attempt", "player", Fate.KEEP, export="attempts", leaves_out=("points", "out_of", "version")),
    Declared("assessments.Answer", "attempt__player", Fate.DELETE, export="answers", leaves_out=_SECRET),
    Declared("assessments.AnswerHistory", "attempt__player", Fate.DELETE, export="answers-before", leaves_out=_SECRET),
    Declared("assessments.Mark", "attempt__player", Fate.BLANK, ("answer",), export="marks", shows=marks_out),
    Declared(
        "assessments.MarkOverride", "attempt__player", Fate.BLANK, ("reason",), export="marks-given", shows=marks_out
    ),
    Declared(
        "assessments.Submission", "attempt__player", Fate.BLANK, ("file", "name", "link", "note"), export="hand-ins",
        leaves_out=_SECRET,
    ),
    Declared("assessments.Comment", "attempt__player", Fate.BLANK, ("text",), export="comments", leaves_out=_SECRET),
    Declared("assessments.Listening", "player", Fate.BLANK, ("noticed",), export="listening", leaves_out=_SECRET),
    Declared("assessments.OwnQuiz", "player", Fate.DELETE, export="own-quizzes", leaves_out=("questions", "asked", "marks")),
    Declared("assessments.Recall", "player", Fate.DELETE, export="by-heart", leaves_out=("card", "keys")),
    Declared("assessments.DeskHabit", "player", Fate.DELETE, export="desk"),
    Declared("assessments.Leeway", "player", Fate.BLANK, ("reason",), export="leeway"),
    Declared("assessments.Objection", "attempt__player", Fate.BLANK, ("text", "answer"), export="objections", leaves_out=_SECRET),
    Declared("assessments.ReadingQuestion", "player", Fate.BLANK, ("text", "answer"), export="reading-questions",
             leaves_out=_SECRET, shows=not_held("revision__version__tune")),
    Declared("assessments.SignOff", "player", Fate.BLANK, ("evidence",), export="sign-offs"),
    Declared("assessments.Evidence", "player", Fate.BLANK, ("what",), export="ledger", shows=evidence_out),
)  # fmt: skip
names_in(("assessments.Evidence", "what"))
