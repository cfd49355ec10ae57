"""Small builders for tests. Each owner adds the ones for their models below their own line.

Everything has a sensible default, names are invented, nothing is random.
"""
from __future__ import annotations

import datetime as dt
import itertools
from typing import Any

from django.utils import timezone

from studio.models import Ensemble, Membership, Term, User
from tunes.models import ChartRevision, Idiom, Recording, Tune
from tunes.services.charts import save_revision
from tunes.services.tunes import create_version

PASSWORD = "correct horse battery"
_numbers = itertools.count(1)


# --- studio

def make_user(name: str = "", *, email: str = "", password: str = PASSWORD, **extra: Any) -> User:
    """A person with no chair."""
    number = next(_numbers)
    return User.objects.create_user(
        email=email or f"person{number}@example.org", name=name or f"Person {number}", password=password, **extra
    )


def make_director(name: str = "Director") -> User:
    return make_user(name, is_director=True)


def make_term(name: str = "", *, starts: dt.date | None = None, ends: dt.date | None = None) -> Term:
    """A term that runs today unless told otherwise."""
    today = timezone.localdate()
    return Term.objects.create(
        name=name or f"Term {next(_numbers)}",
        starts=starts or today - dt.timedelta(days=30),
        ends=ends or today + dt.timedelta(days=60),
    )


def make_ensemble(name: str = "", *, term: Term | None = None) -> Ensemble:
    return Ensemble.objects.create(name=name or f"Ensemble {next(_numbers)}", term=term or make_term())


def make_player(ensemble: Ensemble, name: str = "", *, instrument: str = "tenor-sax", user: User | None = None) -> User:
    """A person who plays in `ensemble`."""
    user = user or make_user(name, instrument=instrument)
    Membership.objects.create(user=user, ensemble=ensemble, role=Membership.Role.PLAYER, instrument=instrument)
    return user


def make_instructor(ensemble: Ensemble, name: str = "", *, user: User | None = None) -> User:
    """A person who leads `ensemble`."""
    user = user or make_user(name, instrument="piano")
    Membership.objects.create(user=user, ensemble=ensemble, role=Membership.Role.INSTRUCTOR)
    return user


# --- tunes

TWO_FIVE_ONE = "key: Bb major\n\nA:\n| Cm7 F7 | Bbmaj7 | Cm7 F7 | Bbmaj7 |"


def make_tune(title: str = "", **fields: Any) -> Tune:
    """A tune in B flat major."""
    return Tune.objects.create(title=title or f"Tune {next(_numbers)}", key=fields.pop("key", "Bb major"), **fields)


def make_recording(tune: Tune, leader: str = "", **fields: Any) -> Recording:
    return Recording.objects.create(tune=tune, leader=leader or f"Leader {next(_numbers)}", **fields)


def make_version(tune: Tune | None = None, text: str = TWO_FIVE_ONE, *, name: str = "", **fields: Any) -> ChartRevision:
    """A chart version with one revision; returns the revision (`.version` is the version)."""
    version = create_version(tune=tune or make_tune(), name=name or f"version {next(_numbers)}", by=None)
    return save_revision(version=version, text=text, by=fields.pop("by", None), **fields)


def make_idiom(name: str = "", pattern: str = "ii7 V7 I") -> Idiom:
    return Idiom.objects.create(name=name or f"idiom {next(_numbers)}", pattern=pattern)
