"""When a player may see marks and answers."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from assessments.release import answers_out

NOW = datetime(2030, 3, 10, 12, tzinfo=UTC)
PAST, FUTURE = NOW - timedelta(hours=1), NOW + timedelta(hours=1)


@pytest.mark.parametrize(
    ("release", "released_at", "due", "handed_in", "goes_left", "out"),
    [
        ("hand-in", None, None, True, 1, True),
        ("hand-in", None, None, False, 1, False),
        ("hand-in", PAST, PAST, False, 0, False),  # an attempt being written never shows its key
        ("last", None, None, True, 1, False),
        ("last", None, None, True, 0, True),
        ("last", None, FUTURE, True, 1, False),  # a blank first go shows nothing
        ("last", None, FUTURE, True, 0, True),
        ("last", None, PAST, True, 1, True),  # nobody who did well at once waits for ever
        ("last", None, PAST, False, 1, False),
        ("due", None, FUTURE, True, 0, False),
        ("due", None, PAST, True, 1, True),
        ("due", None, NOW, True, 1, True),
        ("due", None, None, True, 1, False),
        ("by-hand", None, PAST, True, 0, False),
        ("by-hand", PAST, None, True, 1, True),
        ("by-hand", FUTURE, None, True, 1, False),
        ("due", PAST, FUTURE, True, 1, True),  # released by hand before the date
    ],
)
def test_answers_out(
    release: str, released_at: datetime | None, due: datetime | None, handed_in: bool, goes_left: int, out: bool
) -> None:
    assert (
        answers_out(
            release=release, released_at=released_at, due=due, now=NOW, handed_in=handed_in, goes_left=goes_left
        )
        is out
    )
