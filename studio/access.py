"""Who may see or do what. Every app asks here; nothing else reads roles.

A person's memberships are read once and kept on the user object for the request.
A foreign object answers 404 (its existence is nobody's business); a page of another role answers 403.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404
from django.utils import timezone

from studio.models import Ensemble, Membership, Message

View = Callable[..., HttpResponseBase]


@dataclass(frozen=True)
class Seat:
    """A chair that a person plays: of which ensemble, on what (never "" when the account has a main instrument), whether
    its term is running, and the further instruments played in it."""

    ensemble: int
    name: str
    instrument: str
    running: bool
    doubles: tuple[str, ...] = ()


@dataclass(frozen=True)
class Chairs:
    """Ids of the ensembles that a person leads and plays in, and the chairs that they play. `leads_now`: one of the led
    ones is in a term that has not ended."""

    led: frozenset[int]
    played: frozenset[int]
    seats: tuple[Seat, ...] = ()
    leads_now: bool = False
    substituted: frozenset[int] = frozenset()  # led for some days only


def _holds(begins: dt.date | None, ends: dt.date | None, day: dt.date) -> bool:
    """Whether a chair with these dates is held on a day; without dates it always is."""
    return (begins is None or begins <= day) and (ends is None or day <= ends)


def chairs(user: Any) -> Chairs:
    """What `user` leads and plays in; one query per user object. Nobody signed in: nothing."""
    kept: Chairs | None = user.__dict__.get("_chairs")
    if kept is None:
        columns = (
            "role",
            "ensemble_id",
            "ensemble__name",
            "instrument",
            "ensemble__term__starts",
            "ensemble__term__ends",
            "doubles",
            "begins",
            "ends",
        )
        rows = list(user.memberships.values_list(*columns)) if user.is_authenticated else []
        today = timezone.localdate()
        leading = [row for row in rows if row[0] == Membership.Role.INSTRUCTOR and _holds(row[7], row[8], today)]
        kept = Chairs(
            frozenset(row[1] for row in leading),
            frozenset(row[1] for row in rows if row[0] == Membership.Role.PLAYER),
            tuple(
                Seat(row[1], row[2], row[3] or user.instrument, row[4] <= today <= row[5], tuple(row[6] or ()))
                for row in rows
                if row[0] == Membership.Role.PLAYER
            ),
            any(today <= row[5] for row in leading),
            frozenset(row[1] for row in leading if row[8] is not None),
        )
        user.__dict__["_chairs"] = kept
    return kept


def instrument_of(user: Any, ensemble: int | str = "") -> str:
    """Key of the instrument that charts and drills are written for, "" for concert pitch. No query of its own.

    That of the chair in `ensemble` (an id, as it may stand in an address) where the person plays in it. Else that of
    their chairs in running terms where all have the same, else the main one of the account.
    """
    own: str = user.instrument if user.is_authenticated else ""
    seats = chairs(user).seats
    for seat in seats:
        if str(seat.ensemble) == str(ensemble):
            return seat.instrument
    running = {seat.instrument for seat in seats if seat.running}
    return running.pop() if len(running) == 1 else own


def doubled(user: Any) -> dict[str, list[str]]:
    """Instrument → names of the ensembles it is played in, of a person who plays several this term; nothing otherwise."""
    found: dict[str, list[str]] = {}
    for seat in sorted(chairs(user).seats, key=lambda seat: seat.name):
        for instrument in (seat.instrument, *seat.doubles) if seat.running else ():
            if instrument:
                found.setdefault(instrument, []).append(seat.name)
    return found if len(found) > 1 else {}


def is_director(user: Any) -> bool:
    return bool(user.is_authenticated and user.is_director)


def is_instructor(user: Any) -> bool:
    """True for a person who leads at least one ensemble, or once did, and for the director.

    It opens the pages of an instructor, which show the work of ensembles that the person leads and no other. What
    belongs to the whole programme asks for more: `can_edit_repertoire`.
    """
    return is_director(user) or bool(chairs(user).led)


def roles_held(user: Any) -> frozenset[str]:
    """The roles (`studio.entry.rules.ROLES`) whose rules of signing in hold for this person; a player who is nothing else."""
    mine = chairs(user)
    held = {"director": is_director(user), "instructor": bool(mine.led), "player": bool(mine.played)}
    return frozenset(role for role, holds in held.items() if holds) or frozenset({"player"})


def leads(user: Any, ensemble: Ensemble | int) -> bool:
    """True when `user` may assign to, review and sign off the players of `ensemble`. The director may, everywhere."""
    return is_director(user) or _pk(ensemble) in chairs(user).led


def names_substitutes(user: Any, ensemble: Ensemble | int) -> bool:
    """True when `user` may let somebody else lead `ensemble` for some days: not a substitute, who has no more to give."""
    return leads(user, ensemble) and (is_director(user) or _pk(ensemble) not in chairs(user).substituted)


def plays_in(user: Any, ensemble: Ensemble | int) -> bool:
    return _pk(ensemble) in chairs(user).played


def belongs_to(user: Any, ensemble: Ensemble | int) -> bool:
    """Leads it or plays in it."""
    return leads(user, ensemble) or plays_in(user, ensemble)


def ensembles_led(user: Any) -> QuerySet[Ensemble]:
    """Ensembles that `user` leads, those of running terms first; all of them for the director."""
    everything = Ensemble.objects.running_first()
    return everything if is_director(user) else everything.filter(pk__in=chairs(user).led)


def ensembles_played(user: Any) -> QuerySet[Ensemble]:
    return Ensemble.objects.running_first().filter(pk__in=chairs(user).played)


def can_edit_repertoire(user: Any) -> bool:
    """The director, and whoever leads an ensemble of a term that has not ended."""
    return is_director(user) or chairs(user).leads_now


def may_be_asked(user: Any) -> bool:
    """Whether work can be asked of this person as a player: they have a chair somewhere, whatever they lead elsewhere.

    Never of the director, who answers for every ensemble.
    """
    return not is_director(user) and bool(chairs(user).played)


def messages_seen(user: Any) -> QuerySet[Message]:
    """Messages that were sent to or by `user`, and those of the ensembles that `user` leads."""
    mine = Q(by=user) | Q(pk__in=Message.to.through.objects.filter(user=user).values("message"))
    return Message.objects.filter(mine | Q(ensemble__in=ensembles_led(user).order_by().values("pk"))).select_related(
        "ensemble__term", "by"
    )


def led_or_404(user: Any, pk: int) -> Ensemble:
    """The ensemble, if `user` leads it; 404 otherwise."""
    return get_object_or_404(ensembles_led(user), pk=pk)


def require(test: Callable[[Any], bool]) -> Callable[[View], View]:
    """A decorator: signed out goes to the sign-in page, the wrong role gets 403."""

    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not test(request.user):
                raise PermissionDenied
            return view(request, *args, **kwargs)

        return login_required(guarded)

    return decorate


director_required = require(is_director)
instructor_required = require(is_instructor)


def _pk(ensemble: Ensemble | int) -> int:
    return ensemble if isinstance(ensemble, int) else ensemble.pk
