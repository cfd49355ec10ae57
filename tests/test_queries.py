"""Every page takes at most 15 queries, and the same number with 10 players in the ensemble as with 400.

The pages are those of the access table. An app whose rows grow with the number of players adds
`grow(world, players)` to its module in `tests/access_rows/`, which makes what each player would have.
"""
from __future__ import annotations

from collections.abc import Iterator

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.models import Membership, User
from tests.access import Access, World, make_world, sign_everyone_in
from tests.test_access import MODULES, ROWS

MOST = 15
WATCHERS = ("instructor", "director", "player")


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


def pages(world: World) -> Iterator[tuple[str, str]]:
    """Role and address of every page that can be fetched."""
    for row in ROWS:
        for role in WATCHERS:
            if row.get and row.get[role] == 200 and not row.headers:
                yield role, reverse(row.route, kwargs=row.kwargs(world)) + row.query


def count(world: World, role: str, address: str) -> int | None:
    """Queries of one page; None for a file, which may be written in portions."""
    with CaptureQueriesContext(connection) as queries:
        response = world.clients[role].get(address)
    assert response.status_code == 200, f"{address} as {role}: {response.status_code}"
    return None if response.streaming or "attachment" in response.headers.get("Content-Disposition", "") else len(queries)


def measure(world: World) -> dict[tuple[str, str], int]:
    found = {}
    for role, address in pages(world):
        count(world, role, address)  # the first visit may fill caches
        number = count(world, role, address)
        if number is not None:
            found[role, address] = number
    return found


def test_queries_are_few_and_do_not_grow(db: None) -> None:
    world = make_world()
    for module in MODULES:
        if hasattr(module, "build"):
            module.build(world)
    sign_everyone_in(world)
    add_players(world, 10)
    few = measure(world)
    add_players(world, 400)
    many = measure(world)
    many_queries = {page: number for page, number in many.items() if number > MOST}
    growing = {page: (few[page], many[page]) for page in few if many[page] != few[page]}
    assert (many_queries, growing) == ({}, {})


def test_the_measure_can_fail(db: None) -> None:
    world = make_world()
    sign_everyone_in(world)
    before = count(world, "director", "/people/")
    with CaptureQueriesContext(connection) as queries:
        world.clients["director"].get("/people/")
        User.objects.count()
    assert len(queries) == (before or 0) + 1
    assert Access("x").methods() == {}


