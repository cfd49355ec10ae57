"""A name for a progression that a player proposes: who leads the player's ensembles is told, and gives it or not.

Nothing is stored but the notice: the choice of bars stands in its address, so that what is named is what the player saw.
"""

from __future__ import annotations

import re
from urllib.parse import urlencode

from django.db.models import QuerySet
from django.http import QueryDict
from django.utils import timezone

from studio.access import can_edit_repertoire, chairs
from studio.models import Membership, Notice, User
from studio.notices import notify, notify_each_once

KIND = "name-proposed"
GIVEN = "name-given"
DECLINED = "name-declined"
CHOICE = ("from", "to", "begin", "end", "count", "close", "where", "bass", "opt", "fold")  # what makes the pattern
MOST_WAITING = 10  # unread names of one player at one leader
LONGEST_ADDRESS = 300  # of a notice
LONGEST_VALUE = 9
_PROPOSED = re.compile(r"“(?P<name>.+)” for (?P<where>.+)\.$")  # as `propose` writes it


class CannotPropose(ValueError):
    """Why a name cannot be proposed now, in words for the player."""


def may_propose(user: User) -> bool:
    """Whether somebody plays in a running term: those who name themselves need not propose."""
    return bool(_playing(user)) and not can_edit_repertoire(user)


def _playing(user: User) -> list[int]:
    return [seat.ensemble for seat in chairs(user).seats if seat.running]


def leaders_for(player: User) -> QuerySet[User]:
    """Who leads an ensemble that the player plays in now."""
    leading = Membership.objects.leading().filter(ensemble__in=_playing(player))
    return User.objects.filter(pk__in=leading.values("user"), is_active=True).exclude(pk=player.pk)


def propose(*, by: User, name: str, where: str, title: str, path: str, query: QueryDict) -> int:
    """Tell the leaders once; returns how many there are. Raises `CannotPropose`.

    where: the bars in words; path and query: the page of the chart with the choice.
    """
    leaders = list(leaders_for(by))
    if not leaders:
        raise CannotPropose("Nobody leads an ensemble of yours just now. Tell the director what the class calls it.")
    waiting = Notice.objects.filter(kind=KIND, user__in=leaders, url__contains=f"?by={by.pk}&", seen=None)
    if waiting.count() >= MOST_WAITING * len(leaders):
        raise CannotPropose(f"{MOST_WAITING} names of yours wait to be read. Propose this one when they are.")
    url = address(path, query, by.pk, name)
    text = f"{by.name} proposes “{name}” for {where} of {title}."
    notify_each_once(KIND, [(leader.pk, text, url) for leader in leaders])
    return len(leaders)


def address(path: str, query: QueryDict, by: int, name: str) -> str:
    """The page on which the name is given: the choice, whose it is, and the name where the address has room for it."""
    asked = [(key, value[:LONGEST_VALUE]) for key in CHOICE for value in query.getlist(key)]
    short = f"{path}?{urlencode([('by', by), *asked])}"
    whole = f"{short}&{urlencode({'name': name})}"
    return whole if len(whole) <= LONGEST_ADDRESS else short[:LONGEST_ADDRESS]


def proposed_to(leader: User, path: str, by: str) -> list[Notice]:
    """The notices by which this player's names for bars of this chart reached somebody, the newest first."""
    if not (by.isascii() and by.isdigit()):
        return []
    return list(Notice.objects.filter(user=leader, kind=KIND, url__startswith=f"{path}?by={by}&")[: 2 * MOST_WAITING])


def tell_who_proposed(*, leader: User, path: str, by: str, name: str, url: str) -> None:
    """Tell the player whose proposal led to a name; nobody, where the address was not sent to this leader."""
    if not proposed_to(leader, path, by):
        return
    player = User.objects.filter(pk=int(by), is_active=True).first()
    if player is not None:
        notify(player, GIVEN, f"The progression that you found has a name now: “{name}”.", url)


def decline(*, leader: User, path: str, by: str, address: str, why: str = "") -> str:
    """Say no to a name that was proposed to this leader at `address`, with the reason if there is one: the player is told, the
    notice counts as read, and others who lead them may still give the name. Returns the name as proposed, "" when nothing was."""
    asked = [row for row in proposed_to(leader, path, by) if row.url == address]
    player = User.objects.filter(pk=int(by), is_active=True).first() if asked else None
    if player is None:
        return ""
    found = _PROPOSED.search(asked[0].text)
    name, where = (found["name"], found["where"]) if found else ("your name", "that progression")
    reason = f" {leader.name} says: {why}" if why else ""
    notify(player, DECLINED, f"“{name}” for {where} was not taken up.{reason}", path)
    Notice.objects.filter(pk__in=[row.pk for row in asked], seen=None).update(seen=timezone.now())
    return name
