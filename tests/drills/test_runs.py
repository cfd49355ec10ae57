"""The named progressions of a chart as parts to practise: once each, never backwards without a word."""

from __future__ import annotations

import pytest

from drills.runs import runs
from tests import factories
from tunes.study import study_of_text

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("key: C\n| Dm7 | G7 | Cmaj7 | Ab7 |", ["homecoming, bars 1 to 3"]),
        ("key: C\n|: Dm7 | G7 | Cmaj7 | Ab7 :|", ["homecoming, bars 1 to 3"]),  # the same bars the second time
        ("key: C\n|: Cmaj7 | Ab7 | Dm7 | G7 :|", ["homecoming, bars 3 to 5"]),
    ],
)
def test_parts_are_named_by_their_bars(text: str, words: list[str]) -> None:
    found = runs(study_of_text(text), [factories.make_idiom("homecoming")])
    assert [line for _, line in found] == words
