"""Every page takes at most 15 queries, and the same number with 10 players in the ensemble as with 400.

The pages are those of the access table. An app whose rows grow with the number of players adds
`grow(world, players)` to its module in `tests/access_rows/`, which makes what each player would have.
"""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Iterator

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from api.models import Token
from studio.models import Membership, User
from tests.access import Access, World, make_world, sign_everyone_in
from tests.test_access import MODULES, ROWS, ask, whole_world

MOST = 15
MOST_OF_A_CALL = 18  # an API call also reads its token and counts itself against the throttle, in the shared cache
FRAMES = ("SAVEPOINT", "RELEASE SAVEPOINT", "ROLLBACK TO SAVEPOINT")  # statements that ask nothing
BACKGROUND = {"/work/offline/": 18}  # fetched by the page's worker, once a visit: nobody waits for it
WATCHERS = ("instructor", "director", "player")
PARTS = 2  # of the table, so that two processes share the work
ON_POSTGRES = os.environ.get("TOPFORM_TEST_DB") == "postgres"


def add_players(world: World, size: int) -> None:
    """Fill the ensemble up to `size` players, with what each would have."""
    first = world.ensemble.memberships.count()
    new = User.objects.bulk_create(
        User(email=f"grown{number}@x.example", name=f"Grown {number}", instrument="trumpet", password="!")
        for number in range(first, size)
    )
    Membership.objects.bulk_create(Membership(user=user, ensemble=world.ensemble, instrument="trumpet") for user in new)
    for module in MODULES:
        if hasattr(module, "grow"):
            module.grow(world, new)


def pages(world: World, rows: list[Access]) -> Iterator[tuple[Access, str, str]]:
    """Row, role and address of every page that can be fetched."""
    for row in rows:
        for role in WATCHERS:
            if row.get and row.get[role] == 200:
                yield row, role, reverse(row.route, kwargs=row.kwargs(world))


def count(world: World, row: Access, role: str, address: str) -> int | None:
    """Queries of one page; None for a file, which may be written in portions."""
    connection.queries_log.clear()  # it holds 9,000 and then forgets
    with CaptureQueriesContext(connection) as queries:
        response = ask(world, row, role, "get", address)
    assert response.status_code == 200, f"{address} as {role}: {response.status_code}"
    if response.streaming or "attachment" in response.headers.get("Content-Disposition", ""):
        return None
    return asked(queries)


def asked(queries: CaptureQueriesContext) -> int:
    """How many of the statements ask or write something."""
    return sum(not query["sql"].startswith(FRAMES) for query in queries.captured_queries)


def most(address: str) -> int:
    return BACKGROUND.get(address, MOST_OF_A_CALL if address.startswith("/api/") else MOST)


def measure(world: World, rows: list[Access]) -> dict[tuple[str, str], int]:
    found = {}
    for row, role, address in pages(world, rows):
        count(world, row, role, address)  # the first visit may fill caches
        number = count(world, row, role, address)
        if number is not None:
            found[role, address + row.query] = number
    return found


@pytest.mark.parametrize("part", range(PARTS))
def test_queries_are_few_and_do_not_grow(db: None, part: int) -> None:
    """On PostgreSQL the full ensemble alone: the number of queries is the same, how long they take is not."""
    world, rows = whole_world(), ROWS[part::PARTS]
    Token.objects.update(used=timezone.now() + dt.timedelta(days=1))  # a token notes its use every few minutes
    add_players(world, 10)
    few = {} if ON_POSTGRES else measure(world, rows)
    add_players(world, 400)
    many = measure(world, rows)
    many_queries = {
        (role, address): number for (role, address), number in many.items() if number > most(address.partition("?")[0])
    }
    growing = {page: (few[page], many[page]) for page in few if many[page] != few[page]}
    assert (many_queries, growing) == ({}, {})


def test_the_measure_can_fail(db: None) -> None:
    world = make_world()
    sign_everyone_in(world)
    row = Access("studio:people")
    before = count(world, row, "director", "/people/")
    with CaptureQueriesContext(connection) as queries:
        ask(world, row, "director", "get", "/people/")
        User.objects.count()
    assert asked(queries) == (before or 0) + 1
