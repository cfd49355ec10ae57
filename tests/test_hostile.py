"""Nothing a user can send is a fault of the server: every address and form of the access table, with strange values.

Runs on both databases: PostgreSQL refuses texts and numbers that SQLite takes.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from urllib.parse import quote

import pytest
from django.urls import NoReverseMatch, reverse

from tests.access import Access, World
from tests.test_access import ROWS, ask, built_world, world

__all__ = ["built_world", "world"]  # the fixtures

ROLES = ("signed_out", "player", "instructor", "director")
# Names that pages read from the address; values that parsers and databases stumble over.
NAMES = ("page", "q", "show", "key", "instrument", "ensemble", "term", "tune", "next", "view", "sort", "step", "player")
QUERIES = (
    "%00",
    "-1",
    "9" * 40,
    "%F0%28%8C",
    "%ED%A0%80",
    "a" * 3000,
    "%2F%2Fevil.example",
    "1e400",
    "NaN",
    "%27%22%3C",
)
NUMBERS = (0, 2**31, 2**63, 2**70)
TEXTS = ("\x00", "é" * 300, "..", "%", "\u202e\u0000", " ")
VALUES: tuple[Any, ...] = (
    "\x00",
    "-1",
    "9" * 40,
    "\ud800",
    "x" * 5000,
    "NaN",
    "<script>",
    "\u0000a",
    "",
    "2030-99-99",
    "🎷" * 90,
)


def faults(world: World, row: Access, method: str, address: str) -> Iterator[str]:
    for role in ROLES:
        response = ask(world, row, role, method, address)
        if response.status_code >= 500:
            yield f"{method.upper()} {address[:200]} as {role}: {response.status_code}"


def strange_addresses(row: Access, kwargs: dict[str, Any]) -> Iterator[str]:
    """The address with each of its parts replaced."""
    for name, value in kwargs.items():
        for strange in NUMBERS if isinstance(value, int) else TEXTS:
            try:
                yield reverse(row.route, kwargs=kwargs | {name: strange})
            except NoReverseMatch:
                continue


@pytest.mark.parametrize("row", [row for row in ROWS if row.get], ids=lambda row: f"{row.route}{row.query}")
def test_strange_addresses(world: World, row: Access) -> None:
    kwargs = row.kwargs(world)
    plain = replace(row, query="")
    found = [line for address in strange_addresses(row, kwargs) for line in faults(world, plain, "get", address)]
    address = reverse(row.route, kwargs=kwargs)
    for value in QUERIES:
        query = "&".join(f"{name}={value}" for name in NAMES)
        found += faults(world, plain, "get", f"{address}?{query}")
    assert found == [], "\n".join(found)


def strange_forms(data: Any) -> Iterator[dict[str, Any]]:
    """The form with each field, then all of them, replaced."""
    if not isinstance(data, dict):
        return
    for value in VALUES:
        sendable = (
            value.encode("utf-8", "surrogatepass").decode("utf-8", "replace") if isinstance(value, str) else value
        )
        for name in data:
            yield data | {name: sendable}
        yield dict.fromkeys(data, sendable)
    yield {}


def strange_bodies(data: Any) -> Iterator[str]:
    """Bodies of a JSON address: broken, of another shape, with strange values inside."""
    whole = data if isinstance(data, str) else json.dumps(data)
    yield from ("", "{", "[]", "null", "1", '"x"', "[[[[]]]]", "{}", "[" * 5000, "\x00", whole[:-1])
    try:
        read = json.loads(whole)
    except ValueError:
        return
    yield from (
        json.dumps(changed)
        for value in (*VALUES, None, 1e300, 2**70, [], {}, True)
        for changed in replaced(read, value)
    )


def replaced(data: Any, value: Any) -> Iterator[Any]:
    """Every copy of a JSON value with one of its parts replaced."""
    if isinstance(data, dict):
        for name, part in data.items():
            yield data | {name: value}
            yield from (data | {name: inner} for inner in replaced(part, value))
    elif isinstance(data, list):
        for place, part in enumerate(data):
            yield [*data[:place], value, *data[place + 1 :]]
            yield from ([*data[:place], inner, *data[place + 1 :]] for inner in replaced(part, value))


def written(row: Access) -> list[str]:
    return [method for method in row.methods() if method != "get"]


@pytest.mark.parametrize("row", [row for row in ROWS if written(row)], ids=lambda row: f"{row.route}{row.query}")
def test_strange_forms(world: World, row: Access) -> None:
    address = reverse(row.route, kwargs=row.kwargs(world)) + row.query
    data = row.data(world)
    is_json = "json" in row.content_type
    found: list[str] = []
    for strange in strange_bodies(data) if is_json else strange_forms(data):
        changed = replace(row, data=lambda w, strange=strange: strange, query="")
        for method in written(row):
            for role in allowed(row, method):
                response = ask(world, changed, role, method, address)
                if response.status_code >= 500:
                    found.append(
                        f"{method.upper()} {address} as {role} with {quote(str(strange))[:160]}: {response.status_code}"
                    )
    assert found == [], "\n".join(found[:20])


def allowed(row: Access, method: str) -> list[str]:
    """One role that gets through the door, if there is one."""
    expected = row.methods()[method]
    through = [role for role, value in expected.items() if isinstance(value, int) and value not in {401, 403, 404}]
    return through[-1:]
