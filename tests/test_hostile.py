"""Nothing a user can send is a fault of the server: every address and form of the access table, with strange values.

Runs on both databases: PostgreSQL refuses texts and numbers that SQLite takes. A quick run sends each part of a form a
third of the strange values, another third on each database and for each part; `tests/run --long` sends them all.
"""

from __future__ import annotations

import json
import os
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
LONG = os.environ.get("TOPFORM_HYPOTHESIS") == "long"
FIRST = 1 if os.environ.get("TOPFORM_TEST_DB") == "postgres" else 0  # where the third begins


def share(values: tuple[Any, ...], place: int) -> tuple[Any, ...]:
    """The values that the part at this place is sent."""
    return values if LONG else values[(place + FIRST) % 3 :: 3]


def readers(row: Access) -> list[str]:
    """Those of ROLES who are let in: whoever is not cannot get past the door to a parser."""
    assert row.get is not None
    return list(ROLES) if LONG else [role for role in ROLES if row.get[role] == 200] or ["director"]


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
    plain, people = replace(row, query=""), readers(row)
    address = reverse(row.route, kwargs=kwargs)
    queries = [f"{address}?{'&'.join(f'{name}={value}' for name in NAMES)}" for value in QUERIES]
    found = []
    for place, asked in enumerate([*strange_addresses(row, kwargs), *queries]):
        for role in people if LONG else (people[(place + FIRST) % len(people)],):
            response = ask(world, plain, role, "get", asked)
            if response.status_code >= 500:
                found.append(f"GET {asked[:200]} as {role}: {response.status_code}")
    assert found == [], "\n".join(found)


def strange_forms(data: Any) -> Iterator[dict[str, Any]]:
    """The form with each field, then all of them, replaced."""
    if not isinstance(data, dict):
        return
    for place, name in enumerate(data):
        yield from (data | {name: sendable(value)} for value in share(VALUES, place))
    yield from (dict.fromkeys(data, sendable(value)) for value in VALUES)
    yield {}


def sendable(value: Any) -> Any:
    """What a browser makes of a text that is no text."""
    return value.encode("utf-8", "surrogatepass").decode("utf-8", "replace") if isinstance(value, str) else value


def strange_bodies(data: Any) -> Iterator[str]:
    """Bodies of a JSON address: broken, of another shape, with strange values inside."""
    whole = data if isinstance(data, str) else json.dumps(data)
    yield from ("", "{", "[]", "null", "1", '"x"', "[[[[]]]]", "{}", "[" * 5000, "\x00", whole[:-1])
    try:
        read = json.loads(whole)
    except ValueError:
        return
    values = (*VALUES, None, 1e300, 2**70, [], {}, True)
    each = zip(*(replaced(read, value) for value in values), strict=True)  # for one part, the copies with each value
    yield from (json.dumps(copy) for place, copies in enumerate(each) for copy in share(copies, place))


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
