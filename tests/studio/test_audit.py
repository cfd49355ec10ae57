"""The audit log: what is written, that it stands or falls with what it tells of, that nothing of it can be changed."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from api.tokens import make_token, recognise, revoke
from assessments.models import Mark
from assessments.services.review import override
from assessments.services.sign_off import sign_off, take_back
from studio.audit import record
from studio.models import AuditEntry, Membership, User
from studio.models_audit import AppendOnly
from studio.roster import read_roster
from studio.services import rosters
from tests import factories
from tunes.harmony.pitch.spelling import Key
from tunes.services.overrules import overrule_area, withdraw_overrule

pytestmark = pytest.mark.django_db


class Cast:
    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble("Octet")
        self.director, self.leader = factories.make_director("Dora"), factories.make_instructor(self.ensemble, "Leo")
        self.player = factories.make_player(self.ensemble, "Pia Player")
        self.client = Client()
        self.client.force_login(self.director)

    def post(self, route: str, *args: Any, **data: Any) -> None:
        assert self.client.post(reverse(route, args=args), data).status_code == 302


@pytest.fixture
def cast() -> Cast:
    return Cast()


def _director(cast: Cast) -> None:
    cast.post("studio:person", cast.player.pk, name="Pia", email=cast.player.email, is_active="on", is_director="on")


def _new_person(cast: Cast) -> None:
    cast.post("studio:person_new", name="Nils", email="nils@example.org")


def _chair(cast: Cast) -> None:
    chair = Membership.objects.get(user=cast.player)
    cast.post("studio:chair_change", cast.ensemble.pk, chair.pk, role="instructor", instrument="")
    cast.post("studio:chair_remove", cast.ensemble.pk, chair.pk)


def _roster(cast: Cast) -> None:
    text = (
        f"name,email,ensemble,instrument\nPia Player,{cast.player.email},Octet,flute\nNew One,n@example.org,Octet,piano"
    )
    rosters.write(read_roster(text, {"Octet"}).rows, cast.ensemble.term)


def _sign_offs(cast: Cast) -> None:
    step = factories.make_assignment(cast.ensemble, by=cast.leader, kinds=("sign-off",)).steps.get()
    (row,) = sign_off(step=step, players=[cast.player], by=cast.leader, evidence="heard it")
    take_back(sign_off_id=row.pk, by=cast.leader)


def _mark(cast: Cast) -> None:
    step = factories.make_assignment(cast.ensemble, by=cast.leader).steps.get()
    attempt = factories.make_attempt(step, cast.player, hand_in=True)
    question = Mark.objects.filter(attempt=attempt).first().question
    override(
        attempt_id=attempt.pk, question=question, points=0.5, reason="said it", by=cast.leader, version=attempt.version
    )


def _overrule(cast: Cast) -> None:
    row = overrule_area(
        revision=factories.make_chart_revision(), first=0, last=2, key=Key.parse("C"), why="heard", by=cast.leader
    )
    withdraw_overrule(row=row, by=cast.leader)


def _token(cast: Cast) -> None:
    token, key = make_token(owner=cast.player, name="mine", scopes=["tunes:read"], days=1)
    for _ in range(2):
        recognise(key)
    revoke(token_id=token.pk, owner=cast.player)


def _tune(cast: Cast) -> None:
    tune = factories.make_tune("Gone with it")
    factories.make_recording(tune)
    cast.client.post(reverse("tunes:tune_delete", args=[tune.pk]), {"title": tune.title})


def _ledger(cast: Cast) -> None:
    cast.client.get(reverse("work:ledger-csv"), {"ensemble": cast.ensemble.pk})


def _sign_in(cast: Cast) -> None:
    Client().post(reverse("account_login"), {"login": cast.player.email, "password": factories.PASSWORD})


WRITTEN: list[tuple[Any, str, list[str]]] = [
    (_director, "role", ["Made a director"]),
    (_new_person, "role", ["Added to the programme"]),
    (_chair, "role", ["Chair changed: player in Octet", "Chair taken away: instructor in Octet"]),
    (_roster, "role", ["Added to the programme by the roster", "Chair given by the roster: player in Octet"]),
    (_sign_offs, "sign-off", ["Signed off: “", "Sign-off taken back: “"]),
    (_mark, "overrule", ["Mark given: "]),
    (_overrule, "overrule", ["chords 1 to 3 in C", "taken back"]),
    (_token, "token", ["made for 1 days", "used", "ended"]),
    (_tune, "deletion", ["Tune “Gone with it”"]),
    (_ledger, "export", ["Ledger of Octet as CSV"]),
    (_sign_in, "login", ["Signed in"]),
]


@pytest.mark.parametrize(("does", "kind", "says"), WRITTEN, ids=[row[0].__name__.strip("_") for row in WRITTEN])
def test_what_is_done_is_written(cast: Cast, does: Any, kind: str, says: list[str]) -> None:
    before = AuditEntry.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
    does(cast)
    new = list(AuditEntry.objects.filter(pk__gt=before, kind=kind).order_by("pk"))
    assert len(new) == len(says)
    assert all(said in entry.text for said, entry in zip(says, new, strict=True)), [entry.text for entry in new]
    people = {cast.director.name, cast.leader.name, cast.player.name, "Nils", "New One"}
    assert not [entry.text for entry in new if any(name in entry.text for name in people)]


def test_an_entry_stands_or_falls_with_what_it_tells_of(cast: Cast) -> None:
    before = AuditEntry.objects.count()
    with transaction.atomic():
        _sign_offs(cast)
        _overrule(cast)
        assert AuditEntry.objects.count() == before + 4
        transaction.set_rollback(True)
    assert AuditEntry.objects.count() == before


def test_nothing_of_it_is_changed_or_deleted(cast: Cast) -> None:
    record("role", "Something", by=cast.director, about=cast.player)
    entry = AuditEntry.objects.filter(text="Something").get()
    entry.text = "Something else"
    rows = AuditEntry.objects.all()
    for attempt in (
        entry.save,
        entry.delete,
        rows.delete,
        lambda: rows.update(text="x"),
        lambda: rows.bulk_update([], []),
    ):
        with pytest.raises(AppendOnly):
            attempt()
    assert AuditEntry.objects.get(pk=entry.pk).text == "Something"


def test_a_director_searches_it(cast: Cast) -> None:
    other = factories.make_player(cast.ensemble, "Otto")
    for kind, person, text in (
        ("role", cast.player, "=1+1 first"),
        ("role", other, "second"),
        ("export", other, "third"),
    ):
        record(kind, text, by=cast.director, about=person)
    today = timezone.localdate().isoformat()

    def found(**search: str) -> list[str]:
        answer = cast.client.get(reverse("studio:audit_csv"), search)
        rows = list(csv.DictReader(io.StringIO(b"".join(answer.streaming_content).decode())))
        return [row["What"] for row in rows if row["What"] in ("'=1+1 first", "second", "third")]

    table: list[tuple[dict[str, str], list[str]]] = [
        ({}, ["third", "second", "'=1+1 first"]),
        ({"kind": "role"}, ["second", "'=1+1 first"]),
        ({"kind": "no such"}, ["third", "second", "'=1+1 first"]),
        ({"person": "otto"}, ["third", "second"]),
        ({"person": other.email}, ["third", "second"]),
        ({"q": "thir"}, ["third"]),
        ({"from": today, "to": today, "kind": "export"}, ["third"]),
        ({"to": "2001-01-01"}, []),
        ({"from": "9999-12-31", "to": "9999-12-31"}, []),
        ({"from": "yesterday"}, ["third", "second", "'=1+1 first"]),
    ]
    assert [found(**search) for search, _ in table] == [expected for _, expected in table]
    page = cast.client.get(reverse("studio:audit"), {"person": "otto"}).content.decode()
    assert "third" in page
    assert "first" not in page.split("<tbody>")[1]


def test_the_person_signed_in_is_the_one_who_did_it(cast: Cast) -> None:
    """Services that are not told who acts know it from the request; a program is told apart from a page."""
    idiom = factories.make_idiom("a name")
    cast.client.post(reverse("tunes:idiom_delete", args=[idiom.pk]))
    entry = AuditEntry.objects.get(kind="deletion")
    assert (entry.by, entry.by_program) == (User.objects.get(pk=cast.director.pk), False)
    _, key = make_token(owner=cast.leader, name="mine", scopes=["tunes:write"], days=1)
    idiom = factories.make_idiom("another")
    gone = Client().delete(f"/api/v1/idioms/{idiom.pk}", headers={"Authorization": f"Bearer {key}"})
    assert gone.status_code == 204
    entry = AuditEntry.objects.filter(kind="deletion").first()
    assert (entry.by, entry.by_program) == (cast.leader, True)
    body = {"name": "Registry", "url": "https://registry.example/told", "events": ["roster.changed"]}
    cast.client.force_login(cast.director)
    assert cast.client.post("/api/webhooks/", body).status_code == 200
    entry = AuditEntry.objects.filter(text__startswith="Webhook").get()
    assert (entry.by, entry.by_program) == (cast.director, False), "a page of the interface is no program"
