"""Builds the demo: the programme and its people, then each app's own part, all or nothing."""

from __future__ import annotations

import datetime as dt
import importlib
import importlib.util
from dataclasses import dataclass, field

from django.contrib.auth.hashers import make_password
from django.db import transaction
from django.utils import timezone

from studio.demo import people
from studio.demo.load import PASSWORD
from studio.models import Ensemble, Invitation, Membership, Programme, Term, User
from studio.notices import notify
from studio.services.invitations import LIFETIME

APPS = ("tunes", "drills", "assessments")
SEED = 1959


@dataclass
class DemoWorld:
    """What every app's `load_demo(world)` builds on. `people` is by the e-mail name, `ensembles` by key."""

    today: dt.date
    programme: Programme
    term: Term
    last_term: Term
    next_term: Term
    people: dict[str, User] = field(default_factory=dict)
    ensembles: dict[str, Ensemble] = field(default_factory=dict)
    last_ensembles: dict[str, Ensemble] = field(default_factory=dict)
    next_ensembles: dict[str, Ensemble] = field(default_factory=dict)  # led already, without players yet
    seed: int = SEED

    @property
    def director(self) -> User:
        return self.people[people.DIRECTOR[1]]

    def leader(self, ensemble: str) -> User:
        """The instructor of an ensemble, by its key."""
        return self.people[people.LEADERS[ensemble]]

    def players(self, ensemble: str) -> list[User]:
        """The players of an ensemble, by its key, guests last."""
        own = [self.people[key] for _, key, _ in people.PLAYERS[ensemble]]
        return own + [self.people[key] for place, key, _ in people.GUESTS if place == ensemble]


@transaction.atomic
def compose() -> DemoWorld:
    """Write the whole demo in one transaction: a start that is cut short leaves an empty site."""
    world = _programme()
    _people(world)
    _chairs(world)
    for app in APPS:
        if importlib.util.find_spec(f"{app}.demo"):
            importlib.import_module(f"{app}.demo").load_demo(world)
    return world


def _programme() -> DemoWorld:
    programme = Programme.current()
    programme.name, programme.time_zone, programme.is_demo = "Lowmere Conservatory, jazz studies", "Europe/Lisbon", True
    programme.save()
    today = timezone.localdate()
    start = today - dt.timedelta(days=49)
    term = Term.objects.create(name="This term", starts=start, ends=today + dt.timedelta(days=63))
    last = Term.objects.create(
        name="Last term", starts=start - dt.timedelta(days=140), ends=start - dt.timedelta(days=21)
    )
    after = Term.objects.create(
        name="Next term", starts=today + dt.timedelta(days=84), ends=today + dt.timedelta(days=196)
    )
    return DemoWorld(today=today, programme=programme, term=term, last_term=last, next_term=after)


def _people(world: DemoWorld) -> None:
    everyone = [
        people.DIRECTOR,
        *people.INSTRUCTORS,
        *(person for group in people.PLAYERS.values() for person in group),
    ]
    password = make_password(PASSWORD)  # one hash for all: the demo is no place for secrets
    User.objects.bulk_create(
        User(
            email=f"{key}@{people.DOMAIN}",
            name=name,
            instrument=instrument,
            password=password,
            is_director=key == people.DIRECTOR[1],
        )
        for name, key, instrument in everyone
    )
    world.people = {user.email.split("@")[0]: user for user in User.objects.filter(email__endswith=f"@{people.DOMAIN}")}


def _chairs(world: DemoWorld) -> None:
    for key, name in people.ENSEMBLES.items():
        world.ensembles[key] = Ensemble.objects.create(name=name, term=world.term)
        world.next_ensembles[key] = Ensemble.objects.create(name=name, term=world.next_term)
        if key in people.LAST_TERM:
            world.last_ensembles[key] = Ensemble.objects.create(name=name, term=world.last_term)
    chairs = []
    for key in people.ENSEMBLES:
        for ensemble in filter(None, (world.ensembles[key], world.last_ensembles.get(key))):
            chairs.append(Membership(user=world.leader(key), ensemble=ensemble, role=Membership.Role.INSTRUCTOR))
            chairs += [
                Membership(user=world.people[person], ensemble=ensemble, instrument=instrument)
                for _, person, instrument in people.PLAYERS[key]
            ]
    chairs += [
        Membership(user=world.leader(key), ensemble=ensemble, role=Membership.Role.INSTRUCTOR)
        for key, ensemble in world.next_ensembles.items()
    ]
    chairs += [
        Membership(user=world.people[person], ensemble=world.ensembles[key], instrument=instrument)
        for key, person, instrument in people.GUESTS
    ]
    Membership.objects.bulk_create(chairs)
    _invite(world)
    for user in world.people.values():
        notify(user, "welcome", "Welcome to the demo programme. Everybody and everything in it is invented.", "/")


def _invite(world: DemoWorld) -> None:
    """One more player, who was invited three days ago and has not chosen a password yet. Nobody is written to."""
    ensemble, name, key, instrument = people.INVITED
    waiting = User.objects.create(
        email=f"{key}@{people.DOMAIN}", name=name, instrument=instrument, password=make_password(None)
    )
    Membership.objects.create(user=waiting, ensemble=world.ensembles[ensemble], instrument=instrument)
    sent = timezone.now() - dt.timedelta(days=3)
    Invitation.objects.create(
        user=waiting, invited_by=world.director, created=sent, mailed=sent, expires=sent + LIFETIME
    )
