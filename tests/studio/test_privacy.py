"""A person's own data: the table of what becomes of it is whole, the archive holds it, erasure leaves nothing of them."""

from __future__ import annotations

import datetime as dt
import io
import json
import uuid
import zipfile
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from api.tokens import make_token
from assessments.models import Answer, Attempt, Comment, Evidence, Mark, SignOff, Submission
from assessments.services import hand_in, review
from assessments.services.sign_off import sign_off
from studio.jobs import Job
from studio.models import AuditEntry, Membership, Notice, PersonalArchive, PlannedErasure, Programme, User
from studio.privacy import export, retention
from studio.privacy.declared import NAMES_IN, TABLE
from studio.privacy.erase import CannotErase, erase
from tests import factories
from tests.sounds import tone

pytestmark = pytest.mark.django_db
NAME, EMAIL = "Pia Quillfeather", "pia.quillfeather@example.org"
PAGES_ABOUT_PEOPLE = (
    ("work:overview", ""), ("work:queue", ""), ("work:queue", "?state=missing"), ("work:queue", "?state=open"),
    ("work:ledger", ""), ("studio:people", ""), ("studio:person", "person"), ("studio:ensemble", "ensemble"),
    ("work:ensemble", "ensemble"), ("work:assignments", ""),
)  # fmt: skip
NAMES_THE_FORMER = ("studio:people", "studio:person")
PROGRAMME = ("studio", "tunes", "drills", "assessments", "api", "account", "mfa", "usersessions", "socialaccount")


def test_every_way_from_a_row_to_a_person_is_declared() -> None:
    """A new model that points at a person says what becomes of it, in the `privacy.py` of its app."""
    declared = [(row.model, row.field) for row in TABLE]
    ways = {
        (model._meta.label, field.name)
        for model in apps.get_models(include_auto_created=True)
        for field in model._meta.concrete_fields
        if field.is_relation and field.related_model is User
    }
    assert sorted(ways - set(declared)) == []
    assert len(declared) == len(set(declared))
    for row in TABLE:  # what is named is there
        columns = {field.name for field in row.table._meta.concrete_fields}
        assert set(row.blank) | set(row.leaves_out) - {"client", "sequence", "token"} <= columns, row
    for model, column in NAMES_IN:
        apps.get_model(model)._meta.get_field(column)
    names = [row.export for row in TABLE if row.export]
    assert len(names) == len(set(names))


class Cast:
    """A player who did everything once, and an instructor and a director around them."""

    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble()
        self.leader = factories.make_instructor(self.ensemble, "Leo Leader")
        self.director = factories.make_director("Dora Director")
        self.person = factories.make_player(self.ensemble, user=factories.make_user(NAME, email=EMAIL))
        self.clients = {user.pk: Client() for user in (self.leader, self.director, self.person)}
        for pk, client in self.clients.items():
            client.force_login(User.objects.get(pk=pk))

    def work(self, release: str = "hand-in") -> Attempt:
        kinds = ("function", "hand-in", "sign-off", "listening")
        made = factories.make_assignment(self.ensemble, by=self.leader, kinds=kinds, release=release)
        steps = {step.kind: step for step in made.steps.all()}
        first = steps["function"].quiz.ids[0]
        attempt = factories.make_attempt(steps["function"], self.person, answers={first: f"V7, {NAME}"}, hand_in=True)
        sound = SimpleUploadedFile("take of pia.wav", tone(1))
        hand_in.send(step=steps["hand-in"], player=self.person, token=uuid.uuid4(), file=sound, note=f"{NAME} here")
        review.comment(attempt=attempt, by=self.leader, text=f"Well done, {NAME}", token=uuid.uuid4())
        sign_off(step=steps["sign-off"], players=[self.person], by=self.leader, evidence=f"{NAME} knew it")
        hand_in.log_hearing(
            step=steps["listening"], player=self.person, token=uuid.uuid4(), heard="the trio", on=timezone.localdate(),
            noticed=f"the bass, says {NAME}",
        )  # fmt: skip
        make_token(owner=self.person, name=f"{NAME} phone", scopes=["tunes:read"], days=1)
        Notice.objects.create(user=self.leader, kind="x", text=f"{NAME} asks for another go")
        return attempt


@pytest.fixture
def cast() -> Cast:
    return Cast()


def archive_of(cast: Cast, by: User) -> dict[str, Any]:
    """Made and fetched by the pages."""
    client, own = cast.clients[by.pk], by.pk == cast.person.pk
    page = reverse("studio:own_data") if own else reverse("studio:person_data", args=[cast.person.pk])
    assert client.post(page).status_code == 302
    assert Job.objects.filter(kind=export.KIND, owner=by).latest("pk").result["next"] == page
    job = Job.objects.filter(kind=export.KIND, owner=by).latest("pk")
    assert b"The archive is ready" in client.get(reverse("studio:job", args=[job.pk])).content
    row = PersonalArchive.objects.filter(by=by).get()
    content = client.get(reverse("studio:archive", args=[row.pk])).getvalue()
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_the_archive_holds_what_a_person_did(cast: Cast, django_capture_on_commit_callbacks: Any) -> None:
    cast.work()
    for by in (cast.person, cast.director):
        with django_capture_on_commit_callbacks(execute=True):
            found = archive_of(cast, by)
        read = {name: json.loads(found[name]) for name in found if name.endswith(".json")}
        assert NAME in found["README.txt"].decode()
        assert read["account.json"]["email"] == EMAIL
        assert read["answers.json"][0]["text"] == f"V7, {NAME}"
        assert len(read["marks.json"]) == Mark.objects.count()
        (sent,) = read["hand-ins.json"]
        assert found[sent["file"]] == tone(1)
        assert sent["file"].endswith(".wav")
        assert read["sign-offs.json"][0]["by"]["name"] == "Leo Leader"
        assert read["ledger.json"]
        assert "digest" not in read["tokens.json"][0]
    assert AuditEntry.objects.filter(kind="export", about=cast.person).count() == 4


def test_the_archive_tells_no_mark_that_is_not_out(cast: Cast) -> None:
    attempt = cast.work(release="by-hand")
    found = archive_of(cast, cast.person)
    assert "marks.json" not in found
    assert str(attempt.percent) + "%" not in found["ledger.json"].decode()
    assert not [name for name, content in found.items() if b'"points"' in content or b'"feedback"' in content]


def test_an_archive_is_for_whoever_had_it_made_and_not_for_ever(
    cast: Cast, django_capture_on_commit_callbacks: Any
) -> None:
    cast.clients[cast.director.pk].post(reverse("studio:person_data", args=[cast.person.pk]))
    row = PersonalArchive.objects.get()
    address = reverse("studio:archive", args=[row.pk])
    assert [cast.clients[user.pk].get(address).status_code for user in (cast.director, cast.person, cast.leader)] == [
        200,
        404,
        404,
    ]
    User.objects.filter(pk=cast.director.pk).update(is_director=False)
    assert cast.clients[cast.director.pk].get(address).status_code == 404
    storage, name = row.file.storage, row.file.name
    with django_capture_on_commit_callbacks(execute=True):
        assert export.clear_old(timezone.now() + dt.timedelta(days=6)) == 0
        assert export.clear_old(timezone.now() + dt.timedelta(days=8)) == 1
    assert not storage.exists(name)


def everything_written() -> list[tuple[str, str]]:
    """(model, text) of every column of the site that can hold words."""
    kinds = (models.CharField, models.TextField, models.JSONField, models.FileField)
    found = []
    for model in apps.get_models(include_auto_created=True):
        columns = [f.name for f in model._meta.concrete_fields if isinstance(f, kinds)]
        found += [
            (model._meta.label, json.dumps(row, default=str)) for row in model._base_manager.values_list(*columns)
        ]
    return found


def test_erasure_leaves_nothing_of_a_person_and_the_figures_as_they_are(
    cast: Cast, django_capture_on_commit_callbacks: Any
) -> None:
    cast.work()
    archive_of(cast, cast.person)
    today = timezone.localdate()
    over = factories.make_term(starts=today - dt.timedelta(days=300), ends=today - dt.timedelta(days=200))
    factories.make_player(factories.make_ensemble("Old band", term=over), user=cast.person)
    kept = (Mark, Attempt, Evidence, SignOff, Submission, Comment)
    before = {model: model.objects.count() for model in kept}
    points = list(Attempt.objects.order_by("pk").values_list("points", "out_of", "status"))
    file = Submission.objects.exclude(file="").get().file
    director, address = cast.clients[cast.director.pk], reverse("studio:erase", args=[cast.person.pk])
    assert "sign offs" in director.get(address).content.decode()
    assert len([row for row in everything_written() if NAME in row[1]]) > 10  # it would be found
    for typed in ("", "Pia", EMAIL):
        assert director.post(address, {"name": typed}).status_code == 422
    assert User.objects.get(pk=cast.person.pk).erased is None
    with django_capture_on_commit_callbacks(execute=True):
        assert director.post(address, {"name": NAME.lower()}).status_code == 302
    assert {model: model.objects.count() for model in kept} == before
    assert list(Attempt.objects.order_by("pk").values_list("points", "out_of", "status")) == points
    assert not Answer.objects.exists()
    chairs = Membership.objects.filter(user=cast.person).values_list("ensemble__name", flat=True)
    assert list(chairs) == ["Old band"], "the seat of the running term is free, that of the ended one is history"
    for route, of in PAGES_ABOUT_PEOPLE:  # nothing there breaks, or waits for work of nobody
        page = director.get(
            reverse(route, args=[getattr(cast, of).pk] if of in vars(cast) else []) + of * (of[:1] == "?")
        )
        assert page.status_code == 200, route
        assert ("Former member" in page.content.decode()) == (route in NAMES_THE_FORMER), (route, of)
    assert not file.storage.exists(file.name)
    assert [
        row for row in everything_written() if NAME in row[1] or EMAIL in row[1] or "quillfeather" in row[1].lower()
    ] == []
    gone = User.objects.get(pk=cast.person.pk)
    assert (gone.is_active, gone.has_usable_password(), gone.name) == (False, False, f"Former member {gone.pk}")
    assert cast.clients[cast.person.pk].get(reverse("studio:account")).status_code == 302  # signed out
    assert director.get(address).status_code == 404
    entry = AuditEntry.objects.get(kind="erasure")
    assert (entry.by, entry.about) == (cast.director, gone)


def test_no_director_is_erased_and_nobody_by_themselves(cast: Cast) -> None:
    other = factories.make_director("Second Director")
    for person in (cast.director, other):
        with pytest.raises(CannotErase):
            erase(person_id=person.pk, by=cast.director)
    answer = cast.clients[cast.director.pk].post(reverse("studio:erase", args=[other.pk]), {"name": other.name})
    assert answer.status_code == 422
    assert "take the director" in answer.content.decode()


@pytest.mark.parametrize(
    ("left", "years", "end"),
    [("2024-06-30", 3, "2027-06-30"), ("2024-02-29", 1, "2025-03-01"), ("2024-02-29", 4, "2028-02-29")],
)
def test_years_after_leaving(left: str, years: int, end: str) -> None:
    assert retention.end_of_keeping(dt.date.fromisoformat(left), years) == dt.date.fromisoformat(end)


def test_the_rule_announces_waits_and_erases(cast: Cast) -> None:
    today = timezone.localdate()

    def left(name: str, days: int) -> User:
        term = factories.make_term(starts=today - dt.timedelta(days=days + 90), ends=today - dt.timedelta(days=days))
        return factories.make_player(factories.make_ensemble(term=term), name)

    gone, kept, back, recent = left("Gone", 800), left("Kept", 800), left("Back", 800), left("Recent", 300)
    led = left("Led", 800)
    User.objects.filter(pk=led.pk).update(is_director=True)
    client, page = cast.clients[cast.director.pk], reverse("studio:keeping")
    now = timezone.now()
    Programme.objects.get_or_create()
    retention.daily(now)
    assert not PlannedErasure.objects.exists()  # no rule, nobody
    assert client.post(page, {"years": 0}).status_code == 422
    assert client.post(page, {"years": 2}).status_code == 302
    retention.daily(now)
    retention.daily(now)
    assert {plan.user for plan in PlannedErasure.objects.all()} == {gone, kept, back}
    assert {plan.on for plan in PlannedErasure.objects.all()} == {
        today + retention.NOTICE
    }  # a month's notice, whatever is due
    assert Notice.objects.filter(user=cast.director, url=page).count() == 1
    assert all(name in client.get(page).content.decode() for name in ("Gone", "Kept", "Back"))
    client.post(reverse("studio:keep_one", args=[PlannedErasure.objects.get(user=kept).pk]))
    Membership.objects.create(user=back, ensemble=cast.ensemble)
    retention.daily(now + dt.timedelta(days=29))
    assert not User.objects.exclude(erased=None).exists()
    retention.daily(now + dt.timedelta(days=31))
    assert list(User.objects.exclude(erased=None)) == [User.objects.get(pk=gone.pk)]
    assert recent in User.objects.filter(erased=None)
    assert {plan.user for plan in PlannedErasure.objects.all()} == {kept}
    assert "2 years after leaving" in AuditEntry.objects.get(kind="erasure", about=gone).text
