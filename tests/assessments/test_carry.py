"""A new term from the last one, and the gradebook."""

from __future__ import annotations

import csv
import datetime as dt
import io
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.models import Assignment, PlannedTune, Step
from assessments.selectors.carry import moved
from assessments.services.leeway import give
from assessments.services.plan import plan_tune
from assessments.services.review import override
from studio.models import Ensemble, Membership, Notice, Term
from tests import factories

pytestmark = pytest.mark.django_db
TODAY = timezone.localdate()


@pytest.fixture
def old() -> dict[str, Any]:
    term = factories.make_term("Autumn", starts=TODAY - dt.timedelta(days=70), ends=TODAY + dt.timedelta(days=20))
    ensemble, other = factories.make_ensemble("Octet", term=term), factories.make_ensemble("Trio", term=term)
    leader, player = factories.make_instructor(ensemble, "Ines"), factories.make_player(ensemble, "Pia")
    Membership.objects.filter(user=player).update(doubles=["flute"])
    substitute = factories.make_user("Sub")
    Membership.objects.create(user=substitute, ensemble=ensemble, role="instructor", begins=TODAY, ends=TODAY)
    gone = factories.make_player(ensemble, "Gone")
    type(gone).objects.filter(pk=gone.pk).update(is_active=False)
    due = timezone.now() + dt.timedelta(days=3)
    made = factories.make_assignment(ensemble, by=leader, kinds=("function", "listening"), due=due, title="Glass Hour")
    plan_tune(ensemble=ensemble, tune=made.tune, known_by=TODAY, by=leader)
    return {"term": term, "ensemble": ensemble, "other": other, "made": made, "due": due, "leader": leader}


def form(old: dict[str, Any], **more: Any) -> dict[str, Any]:
    starts = old["term"].starts + dt.timedelta(weeks=20, days=1)
    return {
        "old": old["term"].pk,
        "name": "Spring",
        "starts": starts.isoformat(),
        "ends": (starts + dt.timedelta(days=90)).isoformat(),
        "players": "on",
        "plan": "on",
        "ensembles": [old["ensemble"].pk],
        "assignments": [old["made"].pk],
    } | more


def test_dates_keep_their_hour_past_a_change_of_the_clock(settings: Any) -> None:
    """Summer time began in Oslo on 28 March 2027 (EU directive 2000/84: the last Sunday in March)."""
    oslo = ZoneInfo("Europe/Oslo")
    with timezone.override(oslo):
        later = moved(dt.datetime(2026, 12, 8, 23, 59, tzinfo=oslo), 23)
    assert later == dt.datetime(2027, 5, 18, 23, 59, tzinfo=oslo)


def test_a_term_is_looked_at_and_then_made(client: Client, old: dict[str, Any]) -> None:
    client.force_login(factories.make_director())
    address = reverse("work:new-term")
    assert "Glass Hour" in client.get(address).content.decode()
    look = client.post(address, form(old, act="look"))
    assert (look.status_code, look.context["weeks"]) == (200, 20)
    assert f"{timezone.localtime(old['due'] + dt.timedelta(weeks=20)):%-d %b}" in look.content.decode()
    assert Term.objects.count() == 1
    notices = Notice.objects.count()
    assert client.post(address, form(old, act="make")).status_code == 302
    new = Ensemble.objects.get(term__name="Spring")  # the one that was ticked
    chairs = {(c.user.name, c.role, tuple(c.doubles)) for c in new.memberships.select_related("user")}
    assert chairs == {("Ines", "instructor", ()), ("Pia", "player", ("flute",))}
    made = Assignment.objects.get(ensemble=new)
    assert [(s.kind, s.due) for s in made.steps.all()] == [
        (kind, old["due"] + dt.timedelta(weeks=20)) for kind in ("function", "listening")
    ]
    assert made.steps.first().quiz.ids == old["made"].steps.first().quiz.ids
    assert PlannedTune.objects.get(ensemble=new).known_by == TODAY + dt.timedelta(weeks=20)
    assert Notice.objects.count() == notices
    old["made"].refresh_from_db()
    assert old["made"].ensemble == old["ensemble"]  # history stays


@pytest.mark.parametrize(
    "more", [{"name": ""}, {"name": "Autumn"}, {"ends": "2001-01-01"}, {"weeks": "-3"}, {"starts": "soon"}]
)
def test_what_is_wrong_makes_nothing_and_keeps_the_ticks(
    client: Client, old: dict[str, Any], more: dict[str, str]
) -> None:
    client.force_login(factories.make_director())
    response = client.post(reverse("work:new-term"), form(old, act="make", ensembles=[old["other"].pk], **more))
    assert (response.status_code, Term.objects.count()) == (422, 1)
    assert f'name="ensembles" value="{old["other"].pk}" checked' in response.content.decode()
    assert f'name="ensembles" value="{old["ensemble"].pk}" checked' not in response.content.decode()


def test_without_a_term_there_is_nothing_to_carry(client: Client) -> None:
    client.force_login(factories.make_director())
    assert client.get(reverse("work:new-term")).headers["Location"] == reverse("studio:terms")
    assert client.get(reverse("work:new-term") + "?old=99999").status_code == 302


def test_the_gradebook_has_every_attempt_and_no_formula(client: Client, old: dict[str, Any]) -> None:
    ensemble, leader = old["ensemble"], old["leader"]
    player = factories.make_player(ensemble, "=1+1")
    step = Step.objects.select_related("assignment__ensemble").get(assignment=old["made"], kind="function")
    done = factories.make_attempt(step, player, answers={"function:0": "banana"}, hand_in=True)
    before = done.percent
    override(attempt_id=done.pk, by=leader, version=done.version, question="function:0", points=1, reason="Yes")
    give(steps=[step], player=factories.make_player(ensemble, "Ada"), due=None, excused=True, reason="+Tour", by=leader)
    client.force_login(leader)
    for route, pk in (("work:gradebook", old["made"].pk), ("work:gradebook-term", ensemble.pk)):
        response = client.get(reverse(route, args=[pk]))
        text = b"".join(response.streaming_content).decode("utf-8-sig")
        rows = list(csv.DictReader(io.StringIO(text)))
        mine = next(row for row in rows if row["Player"] == "'=1+1" and row["Step"] == "Function of every chord")
        done.refresh_from_db()
        assert (mine["Mark as computed (%)"], mine["Mark as it stands (%)"]) == (str(before), str(done.percent))
        assert (mine["Marks given by hand"], mine["Attempt"], mine["State"]) == ("1", "1", "Handed in")
        excused = next(row for row in rows if row["Player"] == "Ada" and row["Step"] == "Function of every chord")
        assert (excused["Excused"], excused["Attempt"]) == ("'+Tour", "")
        assert len(rows) == 2 * len({row["Player"] for row in rows})
