"""Where somebody is signed in: listed, ended, over after the time of their role; failed sign-ins stand in the log."""

from __future__ import annotations

import importlib
import time
from typing import Any

import pytest
from django.apps import apps
from django.contrib.sessions.models import Session
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from studio.entry import devices, factor, rules, sessions
from studio.models import AuditEntry, SignIn, User
from studio.services.invitations import accept, invite
from tests import factories

WORDS = "seven violet herons"


# Strings as these browsers send them, written from memory; that the names overlap so is common practice (no source).
@pytest.mark.parametrize(
    ("agent", "said"),
    [
        ("Mozilla/5.0 (Windows NT 10.0; Win64; x64; rv:140.0) Gecko/20100101 Firefox/140.0", "Firefox on Windows"),
        (
            "Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/139.0.0.0 Safari/537.36 Edg/139.0.0.0",
            "Edge on Windows",
        ),
        (
            "Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.5 Safari/605.1.15",
            "Safari on Mac",
        ),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) CriOS/139.0.0.0 Mobile/15E148 Safari/604.1",
            "Chrome on iPhone",
        ),
        (
            "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/139.0.0.0 Mobile Safari/537.36",
            "Chrome on Android",
        ),
        (
            "Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) AppleWebKit/537.36 Chrome/139.0.0.0 Safari/537.36",
            "Chrome on Chromebook",
        ),
        ("curl/8.5.0", "A device that does not say what it is"),
        ("", "A device that does not say what it is"),
    ],
)
def test_devices_in_plain_words(agent: str, said: str) -> None:
    assert devices.said(agent) == said


@pytest.fixture
def ada(db: None) -> User:
    cache.clear()
    return factories.make_user("Ada Quill", email="ada@example.org")


def sign_in(user: User, agent: str = "Firefox Windows", password: str = factories.PASSWORD) -> Client:
    client = Client(HTTP_USER_AGENT=agent)
    client.post(reverse("account_login"), {"login": user.email, "password": password})
    return client


def is_in(client: Client) -> bool:
    return client.get(reverse("studio:account")).status_code == 200


def test_listed_and_ended(ada: User) -> None:
    here, phone, library = (sign_in(ada, agent) for agent in ("Firefox Linux", "Safari iPhone", "Edg Windows"))
    page = here.get(reverse("studio:sign_ins")).content.decode()
    assert all(page.count(name) for name in ("Firefox on Linux", "Safari on iPhone", "Edge on Windows"))
    assert page.count("This one") == 1
    row = SignIn.objects.get(agent="Safari iPhone")
    assert sign_in(factories.make_user()).post(reverse("studio:sign_in_end", args=[row.pk])).status_code == 404
    here.post(reverse("studio:sign_in_end", args=[row.pk]))
    assert [is_in(client) for client in (here, phone, library)] == [True, False, True]
    here.post(reverse("studio:sign_ins_end"))
    assert [is_in(client) for client in (here, library)] == [True, False]
    assert Session.objects.count() == SignIn.objects.filter(user=ada).count() + 1
    own = SignIn.objects.get(user=ada)
    here.post(reverse("studio:sign_in_end", args=[own.pk]))
    assert not is_in(here)


def _changed(client: Client, user: User) -> None:
    data = {"oldpassword": factories.PASSWORD, "password1": WORDS, "password2": WORDS}
    assert client.post(reverse("account_change_password"), data).status_code == 302


def _invited(client: Client, user: User) -> None:
    accept(invite(user, by=None).token, password=WORDS)


def _at_the_machine(client: Client, user: User) -> None:
    user.set_password(WORDS)
    user.save()


@pytest.mark.parametrize(("way", "stays"), [(_changed, True), (_invited, False), (_at_the_machine, False)])
def test_a_new_password_ends_every_other_sign_in(ada: User, way: Any, stays: bool) -> None:
    here, other = sign_in(ada), sign_in(ada)
    way(here, ada)
    assert (is_in(here), is_in(other)) == (stays, False)
    newest = sign_in(ada, "Chrome Android", WORDS)
    listed = newest.get(reverse("studio:sign_ins")).content.decode()
    assert listed.count("list__detail") == 1 + stays


def test_reading_writes_nothing(ada: User, django_assert_num_queries: Any) -> None:
    client = sign_in(ada)
    row = SignIn.objects.get(user=ada)
    for _ in range(3):
        client.get(reverse("studio:notices"))
    assert SignIn.objects.get(pk=row.pk).seen == row.seen
    kept = client.session
    kept[sessions.MARK] = {"began": kept[sessions.MARK]["began"], "seen": time.time() - sessions.SEEN_EVERY - 1}
    kept.save()
    client.get(reverse("studio:notices"))
    assert SignIn.objects.get(pk=row.pk).seen > row.seen
    client.post(reverse("account_logout"))
    assert not SignIn.objects.exists()


def test_a_sign_in_lasts_as_long_as_the_role_may(ada: User) -> None:
    ensemble = factories.make_ensemble()
    factories.make_player(ensemble, user=ada)
    leader = factories.make_instructor(ensemble, user=factories.make_player(factories.make_ensemble()))
    player, both = sign_in(ada), sign_in(leader)
    hours = {"director": None, "instructor": 4, "player": 24}
    asked = {role: {"factor": False, "grace": 14, "hours": hours[role]} for role in rules.ROLES}
    factor.set_rules(asked=asked, by=factories.make_director())
    for client in (player, both):
        kept = client.session
        kept[sessions.MARK] = kept[sessions.MARK] | {"began": time.time() - 5 * 3600}
        kept.save()
    assert [is_in(client) for client in (player, both)] == [True, False]  # the shorter of two roles holds
    answer = both.get(reverse("studio:account"), follow=True).content.decode()
    assert "Sign in" in answer
    texts = list(AuditEntry.objects.filter(kind="setting").values_list("text", flat=True))
    assert "Players: no second factor asked; signed in for 24 hours" in texts
    assert len(texts) == 2


def test_failed_sign_ins_are_in_the_log(ada: User) -> None:
    for email, password in (
        (ada.email, "wrong"),
        ("Ada@Example.org", "wrong"),
        ("nobody@x.example", "x"),
        ("no@x.example", "x"),
    ):
        Client(REMOTE_ADDR="10.1.1.1").post(reverse("account_login"), {"login": email, "password": password})
    sign_in(ada)
    log = [(row.text, row.about_id) for row in AuditEntry.objects.order_by("pk")]
    assert log == [
        ("Sign-in refused: wrong password", ada.pk),
        ("Sign-in refused: wrong password", ada.pk),
        ("Sign-in refused: no account has this address", None),
        ("Signed in", ada.pk),
    ]


def test_the_list_follows_the_sessions(ada: User) -> None:
    """Who was signed in before there was a list stands in it; what ended by itself leaves it."""
    sign_in(ada)
    SignIn.objects.all().delete()
    migration = importlib.import_module("studio.migrations.0009_sign_ins_and_second_factors")
    for _ in range(2):
        migration.list_sign_ins(apps, None)
    assert SignIn.objects.get().user == ada
    SignIn.objects.create(user=ada, key="of a session that is gone")
    assert sessions.forget_ended() == 1
    assert SignIn.objects.count() == 1
