"""Where a take belongs: the step it was handed in for, the sign-off that followed it, the practice it is part of.

Steps and sign-offs are known to the app above this one, which registers how they are found, so that nothing points upwards.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any
from urllib.parse import parse_qsl, urlencode

from django.urls import reverse

from drills.takes.models import Take


@dataclass(frozen=True)
class Place:
    """What a take belongs to, in words; `url` leads there, "" where this person has no page of it."""

    words: str
    url: str = ""


Finder = Callable[[Any, Take], list[Place]]
_FINDERS: list[Finder] = []


def find_places(finder: Finder) -> Finder:
    """Register `finder(user, take)`: where a take that `user` hears belongs."""
    if finder not in _FINDERS:
        _FINDERS.append(finder)
    return finder


def places_of(user: Any, take: Take) -> list[Place]:
    found = [place for finder in _FINDERS for place in finder(user, take)]
    if take.player_id == user.pk and take.kind == Take.Kind.DRILL and take.revision_id:
        asked = dict(parse_qsl(take.query)) | {"tempo": str(take.tempo)}
        page = reverse("drills:drill", args=[take.revision_id])
        found.append(Place("Log it as practice", f"{page}?{urlencode(asked)}#practised"))
    return found
