"""Who may see which assignment, attempt and file. Every page and the API fetch their objects here.

Nothing is fetched by id alone: each function narrows a queryset to what the person may see, so that an
object of somebody else answers 404 exactly like one that does not exist.
"""

from __future__ import annotations

from typing import Any

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet
from django.shortcuts import get_object_or_404

from studio.access import ensembles_led, ensembles_played, is_director
from studio.models import Membership, User

from .models import Assignment, Attempt, Objection, PlannedTune, ReadingQuestion, SetList, SignOff, Step, Submission


def assignments_led(user: Any) -> QuerySet[Assignment]:
    """Assignments of the ensembles that `user` leads."""
    return Assignment.objects.filter(_led("ensemble", user)).select_related(
        "ensemble__term", "tune", "revision__version"
    )


def assignments_played(user: Any) -> QuerySet[Assignment]:
    """Assignments of the ensembles that `user` plays in; closed ones only where they have begun something."""
    begun = Exists(Attempt.objects.filter(step__assignment=OuterRef("pk"), player=user.pk))
    return Assignment.objects.filter(Q(closed=None) | begun, ensemble__in=_ids(ensembles_played(user))).select_related(
        "ensemble__term", "tune", "revision__version"
    )


def steps_shown(user: Any) -> Prefetch[Any]:
    """For `assignments_played`: their steps as `user` sees them, closed ones only where they have begun them."""
    return Prefetch("steps", Step.objects.filter(_asked_or_begun(user)))


def _asked_or_begun(user: Any) -> Q:
    begun = Exists(Attempt.objects.filter(step=OuterRef("pk"), player=user.pk))
    return Q(closed=None, assignment__closed=None) | Q(begun)


def steps_led(user: Any) -> QuerySet[Step]:
    return Step.objects.filter(_led("assignment__ensemble", user)).select_related(
        "assignment__ensemble", "assignment__tune"
    )


def steps_played(user: Any) -> QuerySet[Step]:
    """Steps of the ensembles that `user` plays in; closed ones only where they have begun them."""
    return Step.objects.filter(
        _asked_or_begun(user), assignment__ensemble__in=_ids(ensembles_played(user))
    ).select_related("assignment__ensemble", "assignment__tune")


def own_attempts(user: Any) -> QuerySet[Attempt]:
    """Attempts that `user` wrote, also those of ensembles they have since left."""
    return Attempt.objects.filter(player=user).select_related("step__assignment__ensemble", "step__assignment__tune")


def attempts_led(user: Any) -> QuerySet[Attempt]:
    """Attempts that `user` may review: of ensembles they lead, and never their own."""
    return (
        Attempt.objects.filter(_led("step__assignment__ensemble", user))
        .exclude(player=user)
        .select_related(
            "step__assignment__ensemble__term",
            "step__assignment__tune",
            "step__assignment__revision",
            "player",
            "reviewed_by",
        )
        .defer("step__assignment__revision__analysis", "step__assignment__revision__text")
    )


def attempt_to_review(user: Any, pk: int) -> Attempt:
    """A handed-in attempt that `user` may review; 404 otherwise. Open ones are still the player's own."""
    return get_object_or_404(attempts_led(user).defer(None).exclude(status=Attempt.Status.OPEN), pk=pk)


def submission_for(user: Any, pk: int) -> Submission:
    """A hand-in that `user` sent or may review; 404 otherwise."""
    mine = Q(attempt__player=user)
    led = _led("attempt__step__assignment__ensemble", user)
    rows = Submission.objects.select_related("attempt__player", "attempt__step__assignment__tune", "solo__solo")
    return get_object_or_404(rows.filter(mine | led), pk=pk)


def players_led(user: Any) -> QuerySet[User]:
    """People who play in an ensemble that `user` leads."""
    chairs = Membership.objects.filter(_led("ensemble", user), role=Membership.Role.PLAYER)
    return User.objects.filter(pk__in=chairs.values("user_id"))


def sign_offs_led(user: Any) -> QuerySet[SignOff]:
    return SignOff.objects.filter(_led("ensemble", user)).select_related("tune", "player")


def reading_questions_led(user: Any) -> QuerySet[ReadingQuestion]:
    """Questions on readings that `user` may answer: of players in ensembles they lead, and never their own."""
    return (
        ReadingQuestion.objects.filter(player__in=players_led(user).order_by().values("pk"))
        .exclude(player=user)
        .select_related("player", "answered_by", "revision__version__tune")
    )


def objections_led(user: Any) -> QuerySet[Objection]:
    """Questions on marks that `user` may answer: of ensembles they lead, and never their own."""
    return (
        Objection.objects.filter(_led("attempt__step__assignment__ensemble", user))
        .exclude(attempt__player=user)
        .select_related(
            "attempt__player",
            "attempt__step__assignment__ensemble__term",
            "attempt__step__assignment__tune",
            "answered_by",
        )
    )


def planned_led(user: Any) -> QuerySet[PlannedTune]:
    """Planned tunes of the ensembles that `user` leads."""
    return PlannedTune.objects.filter(_led("ensemble", user)).select_related("ensemble", "tune")


def set_lists_led(user: Any) -> QuerySet[SetList]:
    """Set lists of the ensembles that `user` leads."""
    return SetList.objects.filter(_led("ensemble", user)).select_related("ensemble__term")


def set_lists_seen(user: Any) -> QuerySet[SetList]:
    """Set lists of the ensembles that `user` leads or plays in."""
    mine = _led("ensemble", user) | Q(ensemble__in=_ids(ensembles_played(user)))
    return SetList.objects.filter(mine).select_related("ensemble__term")


def _led(path: str, user: Any) -> Q:
    """A filter on rows whose ensemble is at `path`: those of the ensembles that `user` leads. The director leads every one,
    so nothing is asked: a list of all ensembles makes a database walk through every term there ever was. "Nothing" is said
    by a condition that always holds, since an empty Q joined with `|` would leave the other side alone."""
    return ~Q(pk__in=()) if is_director(user) else Q(**{f"{path}__in": _ids(ensembles_led(user))})


def _ids(ensembles: QuerySet[Any]) -> QuerySet[Any]:
    return ensembles.order_by().values("pk")
