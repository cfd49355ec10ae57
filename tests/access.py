"""Words for the access table: who stands in which role, what a row says.

A row names a route and, for each method it takes, what each role gets. For example::

    Access("tunes:edit", lambda w: {"pk": w["tune"].pk}, get=roles(SIGN_IN, players=403, instructors=200))

- `SIGN_IN`: sent to the sign-in page (302).
- Any other value is a status.
- Methods that a row leaves out must never succeed for anyone (405, or the refusal that the role gets).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.test import Client
from django.utils import timezone

from studio.models import Ensemble, User
from tests import factories

ROLES = (
    "signed_out",
    "player",
    "classmate",
    "stranger",
    "instructor",
    "other_instructor",
    "former",
    "director",
)
SIGN_IN = "sign in"
Outcome = int | str
Expected = Mapping[str, Outcome]


class World(dict[str, Any]):
    """The cast, and what each app's `build` put in by name.

    `player` and `classmate` play in `ensemble`, `instructor` leads it; `stranger` plays in `other_ensemble`,
    `other_instructor` leads that one; `former` led an ensemble of a term that is over, and nothing since. Objects that belong to one player belong to `player`.
    """

    ensemble: Ensemble
    other_ensemble: Ensemble
    people: dict[str, User]
    clients: dict[str, Client]


def make_world() -> World:
    """The cast, each with a client that is signed in."""
    world = World()
    term = factories.make_term("Access term")
    today = timezone.localdate()
    over = factories.make_term(
        "Term that is over", starts=today - dt.timedelta(days=120), ends=today - dt.timedelta(days=1)
    )
    world.ensemble = factories.make_ensemble("Ensemble one", term=term)
    world.other_ensemble = factories.make_ensemble("Ensemble two", term=term)
    world.people = {
        "player": factories.make_player(world.ensemble, "Pia Player"),
        "classmate": factories.make_player(world.ensemble, "Cleo Classmate"),
        "stranger": factories.make_player(world.other_ensemble, "Sten Stranger"),
        "instructor": factories.make_instructor(world.ensemble, "Ines Instructor"),
        "other_instructor": factories.make_instructor(world.other_ensemble, "Otto Other"),
        "former": factories.make_instructor(factories.make_ensemble("Ensemble of old", term=over), "Fern Former"),
        "director": factories.make_director("Dora Director"),
    }
    return world


def sign_everyone_in(world: World) -> None:
    world.clients = {"signed_out": Client(raise_request_exception=False)}
    for role, person in world.people.items():
        world.clients[role] = Client(raise_request_exception=False)
        world.clients[role].force_login(person)


def roles(
    signed_out: Outcome,
    *,
    others: Outcome | None = None,
    players: Outcome | None = None,
    instructors: Outcome | None = None,
    **single: Outcome,
) -> dict[str, Outcome]:
    """What each role gets. Narrow wins over wide: a single role, then players / instructors, then others.

    `players` covers player, classmate, stranger; `instructors` covers instructor, other_instructor, director. `former`
    gets what `other_instructor` gets unless it is named: nothing of an ensemble that somebody else leads.
    """
    groups = {
        "players": ("player", "classmate", "stranger"),
        "instructors": ("instructor", "other_instructor", "director"),
    }
    expected: dict[str, Outcome] = {"signed_out": signed_out}
    for wide, value in (("players", players), ("instructors", instructors)):
        chosen = value if value is not None else others
        if chosen is not None:
            expected |= dict.fromkeys(groups[wide], chosen)
    expected |= single
    if "other_instructor" in expected:
        expected.setdefault("former", expected["other_instructor"])
    missing = set(ROLES) - set(expected)
    unknown = set(expected) - set(ROLES)
    if missing or unknown:
        raise ValueError(f"roles without a value: {sorted(missing)}; unknown: {sorted(unknown)}")
    return expected


def nothing(world: World) -> dict[str, Any]:
    return {}


@dataclass(frozen=True)
class Access:
    """One route. `kwargs` and `data` are made from the world; `query` is appended to the address."""

    route: str
    kwargs: Callable[[World], dict[str, Any]] = nothing
    get: Expected | None = None
    post: Expected | None = None
    put: Expected | None = None
    patch: Expected | None = None
    delete: Expected | None = None
    data: Callable[[World], Any] = nothing
    content_type: str = ""  # for example application/json; empty: an ordinary form
    query: str = ""
    headers: Mapping[str, str] = field(default_factory=dict)
    token: bool = False  # sent with a token of the role (every scope) instead of a session

    def methods(self) -> dict[str, Expected]:
        given = {name: getattr(self, name) for name in ("get", "post", "put", "patch", "delete")}
        return {name: value for name, value in given.items() if value is not None}


EVERYONE = roles(200, others=200)
MEMBERS = roles(SIGN_IN, others=200)
INSTRUCTORS = roles(SIGN_IN, players=403, instructors=200)
EDITORS = roles(SIGN_IN, players=403, former=403, instructors=200)
DIRECTOR = roles(SIGN_IN, others=403, director=200)
