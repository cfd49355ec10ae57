"""The access table: every address x every role x every method. An address without a row fails."""

from __future__ import annotations

import importlib
import os
import pkgutil
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.http import HttpResponse
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from tests import access_rows
from tests.access import ROLES, SIGN_IN, Access, Outcome, World, make_world, sign_everyone_in

MODULES = [
    importlib.import_module(f"{access_rows.__name__}.{found.name}")
    for found in pkgutil.iter_modules(access_rows.__path__)
]
ROWS: list[Access] = [row for module in MODULES for row in module.ROWS]
METHODS = ("get", "post", "put", "patch", "delete")
# What no row lists is refused before any query: that is tried once, on SQLite.
ALL_METHODS = os.environ.get("TOPFORM_TEST_DB") != "postgres"
REFUSALS = {302, 401, 403, 404, 405, 415}


def routes(patterns: list[Any], namespace: str = "") -> Iterator[tuple[str, str]]:
    """Name and pattern of every address of the site."""
    for entry in patterns:
        if isinstance(entry, URLResolver):
            inner = f"{namespace}{entry.namespace}:" if entry.namespace else namespace
            yield from routes(entry.url_patterns, inner)
        elif isinstance(entry, URLPattern):
            yield f"{namespace}{entry.name or ''}", str(entry.pattern)


def all_routes() -> dict[str, str]:
    return dict(routes(get_resolver().url_patterns))


def test_every_address_has_a_name() -> None:
    assert [pattern for name, pattern in routes(get_resolver().url_patterns) if not name or name.endswith(":")] == []


def test_every_address_is_in_the_table() -> None:
    assert sorted(set(all_routes()) - {row.route for row in ROWS}) == []


def test_every_row_is_an_address() -> None:
    assert sorted({row.route for row in ROWS} - set(all_routes())) == []


def whole_world() -> World:
    """The cast with everything that the rows name, signed in."""
    world = make_world()
    for module in MODULES:
        if hasattr(module, "build"):
            module.build(world)
    sign_everyone_in(world)
    return world


@pytest.fixture(scope="module")
def built_world(django_db_setup: None, django_db_blocker: Any) -> Iterator[World]:
    """The world, built once for a module of tests and undone after it."""
    with django_db_blocker.unblock():
        undo = transaction.atomic()
        undo.__enter__()
        try:
            yield whole_world()
        finally:
            transaction.set_rollback(True)
            undo.__exit__(None, None, None)


@pytest.fixture
def world(built_world: World, db: None) -> World:
    """The world as it was built, whatever the test before did: its rows are undone, everyone signs in anew."""
    sign_everyone_in(built_world)
    return built_world


def ask(world: World, row: Access, role: str, method: str, address: str) -> HttpResponse:
    """One request, undone afterwards."""
    client = world.clients[role]
    extra: dict[str, Any] = {"headers": dict(row.headers)}
    if row.token:
        client, extra["headers"] = Client(raise_request_exception=False), row.headers | world["tokens"].get(role, {})
    if method != "get":
        extra["data"] = row.data(world)
        if row.content_type:
            extra["content_type"] = row.content_type
    with transaction.atomic():
        response: HttpResponse = getattr(client, method)(address + row.query, **extra)
        if hasattr(response, "streaming_content"):
            response.kept = b"".join(response.streaming_content)
        transaction.set_rollback(True)
    return response


def outcome(response: HttpResponse) -> Outcome:
    if response.status_code == 302 and response.headers["Location"].startswith(reverse("account_login")):
        return SIGN_IN
    return response.status_code


def problems(world: World, row: Access) -> Iterator[str]:
    address = reverse(row.route, kwargs=row.kwargs(world))
    listed = row.methods()
    for method in METHODS if ALL_METHODS else listed:
        for role in ROLES:
            got = outcome(ask(world, row, role, method, address))
            if method in listed:
                if got != listed[method][role]:
                    yield f"{method.upper()} {address} as {role}: expected {listed[method][role]}, got {got}"
            elif got != SIGN_IN and got not in REFUSALS:
                yield f"{method.upper()} {address} as {role}: not in the table, yet it answered {got}"


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.route}{row.query}")
def test_who_gets_what(world: World, row: Access) -> None:
    found = list(problems(world, row))
    assert found == [], "\n".join(found)


def test_a_service_reads_what_a_director_reads_and_signs_nothing(world: World, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its token is nobody's: no call may need a person behind it, and what needs one is refused in words."""
    monkeypatch.setitem(world, "tokens", {"director": world["service_key"]})
    strange = []
    for row in (row for row in ROWS if row.token and row.route != "api:no-such-call"):
        address = reverse(row.route, kwargs=row.kwargs(world))
        for method, expected in row.methods().items():
            found = ask(world, row, "director", method, address).status_code
            own = row.route in ("api:chairs", "api:chair") or method == "get"
            if found != (expected["director"] if own else 403):
                strange.append((method, address, found))
    assert strange == []
