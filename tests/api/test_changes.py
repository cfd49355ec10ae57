"""The change feed, followed as the documentation says: a copy that is kept by it equals what is there, whatever was done.
The check is from outside the feed: the tables themselves, read directly."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from api.changes import FED, KINDS, look
from api.models import Change, ChangeState
from api.scopes import SCOPE_IDS
from api.tokens import make_token
from assessments.models import Step
from assessments.services import review
from studio.models import Membership, User
from tests import factories
from tunes.models import Tune

pytestmark = pytest.mark.django_db
DOCS = Path(__file__).parent.parent.parent / "docs" / "campus.md"
ALL = ["changes:read", "people:read", "work:read", "tunes:read", "teach", "ledger:read"]


@pytest.fixture(autouse=True)
def no_pause(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("api.views.changes.PAUSE", dt.timedelta(0))
    monkeypatch.setattr("api.security.PerTokenHeavy.THROTTLE_RATES", {"heavy": None})


def getter(scopes: list[str], owner: Any = None) -> Any:
    _, key = make_token(owner=owner, name=f"s{scopes}"[:80], scopes=scopes, days=1)

    def get(address: str) -> Any:
        answer = Client().get(address, headers={"Authorization": f"Bearer {key}"})
        assert answer.status_code == 200, answer.content
        return answer.json()

    return get


def documented() -> Any:
    code = re.search(r"```python\n(def follow.*?)```", DOCS.read_text(encoding="utf-8"), re.S)
    assert code
    found: dict[str, Any] = {}
    exec(code[1], found)
    return found["follow"]


def look_queries() -> int:
    with CaptureQueriesContext(connection) as queries:
        look()
    return len(queries)


def there() -> set[tuple[str, int]]:
    return {
        (kind.id, pk)
        for kind in FED
        for pk in apps.get_model(kind.model).objects.filter(**kind.only).values_list("pk", flat=True)
    }


def test_a_copy_kept_by_the_feed_is_what_is_there() -> None:
    follow, get = documented(), getter(ALL)
    ensemble = factories.make_ensemble()
    teacher, player = factories.make_instructor(ensemble), factories.make_player(ensemble)
    work = factories.make_assignment(ensemble, by=teacher, kinds=("function", "hand-in"))
    attempt = factories.make_attempt(work.steps.first(), player, hand_in=True)
    known: dict[tuple[str, int], str] = {}
    place = follow(lambda address: get(f"{address}&limit=3"), known)
    assert set(known) == there(), "page by page from the beginning"

    def changed_by(act: Any) -> set[tuple[str, int, bool]]:
        nonlocal place
        act()
        page = get(f"/api/v1/changes?since={place}")
        place = follow(get, known, place)
        assert set(known) == there()
        return {(row["kind"], row["id"], row["gone"]) for row in page["results"]}

    assert changed_by(lambda: None) == set()
    accepted = changed_by(lambda: review.accept(attempt_id=attempt.pk, by=teacher, version=attempt.version))
    assert accepted == {("attempt", attempt.pk, False)}
    moved = changed_by(lambda: Step.objects.update(due=timezone.now()))
    assert moved == {("step", step.pk, False) for step in work.steps.all()}, "an update of many rows"
    many = [User(email=f"new{n}@x.example", name="New", password="!") for n in range(3)]
    assert len(changed_by(lambda: User.objects.bulk_create(many))) == 3
    User.objects.filter(name="New").update(last_login=timezone.now())
    assert changed_by(lambda: None) == set(), "a sign-in is no change"
    chair = Membership.objects.get(user=player)
    taken = ("chair", chair.pk, True)
    assert changed_by(lambda: Membership.objects.filter(pk=chair.pk).delete()) == {taken}
    assert changed_by(lambda: chair.save(force_insert=True)) == {("chair", taken[1], False)}, "and it is given back"
    tune = factories.make_tune()
    assert changed_by(lambda: Tune.objects.filter(pk=tune.pk).update(title="Other")) == {("tune", tune.pk, False)}
    assert changed_by(lambda: Tune.objects.filter(pk=tune.pk).delete()) == {("tune", tune.pk, True)}
    assert ("attempt", attempt.pk, True) in changed_by(lambda: Step.objects.all().delete()), "along with its step"
    few = look_queries()
    User.objects.bulk_create(User(email=f"more{n}@x.example", name="More", password="!") for n in range(600))
    assert look_queries() <= few + 4 <= 3 * len(KINDS) + 10, "two savepoints and a statement for each 500 that changed"
    restarted: dict[tuple[str, int], str] = {}
    follow(get, restarted)
    assert set(restarted) == there(), "who begins anew hears of nothing that is gone"


def test_permissions_decide_what_stands_in_it() -> None:
    ensemble = factories.make_ensemble()
    teacher = factories.make_instructor(ensemble)
    factories.make_assignment(ensemble, by=teacher)
    director = factories.make_director()
    for scope, kinds in (
        ("people:read", {"person", "chair"}),
        ("work:read", {"term", "ensemble", "assignment", "step"}),
        ("tunes:read", {"tune", "version", "revision"}),
        ("ledger:read", set()),
    ):
        for owner in (None, director):
            rows = getter(["changes:read", scope], owner)("/api/v1/changes")["results"]
            assert {row["kind"] for row in rows} == kinds, (scope, owner)
    get = getter(ALL)
    assert {row["kind"] for row in get("/api/v1/changes?kind=tune")["results"]} == {"tune"}
    for row in get("/api/v1/changes")["results"]:
        if row["address"]:
            get(row["address"])  # the call that shows it, open to a service
    _, key = make_token(owner=teacher, name="t", scopes=sorted(SCOPE_IDS), days=1)
    headers = {"Authorization": f"Bearer {key}"}
    assert Client().get("/api/v1/changes", headers=headers).status_code == 403
    _, key = make_token(owner=director, name="t", scopes=ALL, days=1)
    headers = {"Authorization": f"Bearer {key}"}
    for query in (
        "since=-1",
        "since=x",
        "since=999999",
        f"since={10**30}",
        "limit=0",
        "limit=1001",
        "kind=x",
        "page=1",
    ):
        assert Client().get(f"/api/v1/changes?{query}", headers=headers).status_code == 400, query


def test_of_two_looks_at_once_one_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    """The second one begins before the first has written, and must not give the same change a second place."""
    factories.make_ensemble()
    inner = []
    real = ChangeState.objects.select_for_update

    def first_another() -> Any:
        if not inner:
            inner.append("begun")
            inner.append(look())
        return real()

    monkeypatch.setattr(ChangeState.objects, "select_for_update", first_another)
    assert look() == 0
    assert inner[1] == Change.objects.count() == ChangeState.objects.get().position > 0
