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


def make_idiom(name: str = "", pattern: str = "2min 5dom 1maj") -> Idiom:
    return Idiom.objects.create(name=name or f"idiom {next(_numbers)}", pattern=pattern)


# --- assessments

CHART = """key: F major
metre: 4/4
[A]
| Fmaj7 | Em7b5 A7 | Dm7 G7 | Cm7 F7 |
| Bbmaj7 | Bbm7 Eb7 | Gm7 C7 | F6 |
"""


def make_chart_revision(title: str = "", *, text: str = CHART) -> ChartRevision:
    """A tune in F major with one agreed chart."""
    return make_version(make_tune(title, key="F major", composer="Invented"), text)


def make_assignment(
    ensemble: Ensemble,
    *,
    by: User | None = None,
    kinds: tuple[str, ...] = ("function",),
    due: dt.datetime | None = None,
    revision: Any = None,
    **fields: Any,
) -> Any:
    """A tune assigned to `ensemble`, with one step of each kind; `fields` are fields of `Assignment`.

    Answers come with every hand-in unless told otherwise: most tests look at them.
    """
    from assessments.services.assign import StepPlan, assign

    return assign(
        by=by or make_instructor(ensemble),
        ensemble=ensemble,
        revision=revision or make_chart_revision(),
        title=fields.pop("title", "Assignment"),
        release=fields.pop("release", "hand-in"),
        steps=[StepPlan(kind, due=due) for kind in kinds],
        tell=False,
        **fields,
    )


def make_attempt(step: Any, player: User, *, answers: dict[str, str] | None = None, hand_in: bool = False) -> Any:
    """An attempt with some answers, handed in if asked."""
    import uuid

    from assessments.services import hand_in as work
    from assessments.services.answer import Save, save_answers

    attempt = work.start_attempt(step=step, player=player)
    if answers:
        save_answers(
            attempt_id=attempt.pk,
            player_id=player.pk,
            client=uuid.uuid4(),
            saves=[Save(q, text, n) for n, (q, text) in enumerate(answers.items(), 1)],
        )
    return work.hand_in(attempt_id=attempt.pk, player_id=player.pk) if hand_in else attempt
