"""The demo programme: loads whole or not at all, and every page that one can walk to in it answers, in few queries."""
from __future__ import annotations

import re
from collections import Counter, deque
from collections.abc import Iterator
from html import unescape

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import resolve

from studio.demo import load, people
from studio.models import Ensemble, Membership, Programme, User

MOST_QUERIES = 15
PER_ROUTE = 3  # pages visited of each kind, for each person


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker) -> Iterator[None]:  # type: ignore[no-untyped-def]
    """The demo, loaded once for this module and removed after it."""
    from django.db import transaction

    with django_db_blocker.unblock():
        undo = transaction.atomic()
        undo.__enter__()
        try:
            assert load.load_if_empty(say=lambda line: None)
            yield
        finally:
            transaction.set_rollback(True)
            undo.__exit__(None, None, None)


def test_the_cast(demo: None, db: None) -> None:
    assert Programme.current().is_demo
    assert Ensemble.objects.filter(term__name="This term").count() == 3
    assert Membership.objects.filter(role="player", ensemble__term__name="This term").values("user").distinct().count() >= 20
    both = User.objects.filter(memberships__role="instructor").filter(memberships__role="player").distinct()
    assert both.count() == 1  # one instructor sits in another's ensemble
    played = set(Membership.objects.filter(role="player").values_list("instrument", flat=True))
    assert {"trumpet", "alto-sax", "tenor-sax", "trombone", "guitar", "piano", "bass", "drums", "vibraphone"} <= played
    assert load.load_if_empty(say=lambda line: None) is False
    assert len(load.sign_in_lines()) == len(people.SHOWN)


def addresses(html: str, here: str) -> Iterator[str]:
    """Every address on this site that the page links to."""
    for target in re.findall(r'<a\b[^>]*?\bhref="([^"#]*)', html):
        target = unescape(target)
        if target.startswith("?"):
            target = here.partition("?")[0] + target
        if target.startswith("/") and not target.startswith(("//", "/static/", "/account/")):
            yield target


def walk(client: Client) -> Iterator[str]:
    """Follow links from the start; yields what is wrong with each page."""
    waiting, seen, visited = deque(["/"]), {"/"}, Counter[str]()
    while waiting:
        address = waiting.popleft()
        route = resolve(address.partition("?")[0]).view_name
        if visited[route] >= PER_ROUTE:
            continue
        visited[route] += 1
        with CaptureQueriesContext(connection) as queries:
            response = client.get(address)
        if response.status_code == 302:
            found = [response.headers["Location"]]
        elif response.status_code != 200:
            yield f"{address} answered {response.status_code}"
            continue
        else:
            found = []
            if response.headers.get("Content-Type", "").startswith("text/html") and not response.streaming:
                found = list(addresses(response.content.decode(), address))
            if len(queries) > MOST_QUERIES:
                yield f"{address} ({route}) took {len(queries)} queries"
        for target in found:
            if target not in seen and target.startswith("/"):
                seen.add(target)
                waiting.append(target)


@pytest.mark.parametrize(("email", "role"), people.SHOWN, ids=[email for email, _ in people.SHOWN])
def test_every_page_that_one_can_walk_to(demo: None, db: None, email: str, role: str) -> None:
    client = Client()
    client.force_login(User.objects.get(email=email))
    assert list(walk(client)) == []
