"""Key areas."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from drills.comparers.key_areas import echo_key_areas, mark_key_areas
from drills.comparers.types import StoredKey
from drills.question_kind import Alone, AnsweredBy, Keypad, MarkingRule, Needs, QuestionKind, RuleTable
from drills.questions.key_areas import build_key_areas, with_both_counts
from tunes.harmony.charts.bar_count import bar_name
from tunes.harmony.pitch.spelling import Key

_RULES = (
    MarkingRule(
        "areas-exact",
        "Every key area",
        "Every area has its bar and its key; each earns an equal share.",
        1.0,
        1.0,
        "1 F, 9 Ab, 17 F, in bars as written or as played",
    ),
    MarkingRule(
        "areas-near-bar",
        "Right key, one bar off",
        "An area is in the right key and begins one bar off.",
        0.75,
        0.75,
        "8 Ab for 9 Ab",
    ),
    MarkingRule(
        "areas-two-bars",
        "Right key, two bars off",
        "An area is in the right key and begins two bars off.",
        0.5,
        0.5,
        "11 Ab for 9 Ab",
    ),
    MarkingRule(
        "areas-relative",
        "Relative key",
        "An area is named by its relative major or minor.",
        0.5,
        0.5,
        "9 F minor for 9 Ab",
    ),
    MarkingRule(
        "areas-parallel",
        "Parallel key",
        "An area has the right tonic in the other mode.",
        0.5,
        0.5,
        "9 Ab minor for 9 Ab",
    ),
    MarkingRule(
        "areas-other-beat",
        "Right bar, other beat",
        "The bar and the key are right, the beat that was added is another; a bar without a beat is enough.",
        0.9,
        0.9,
        "7 beat 1 Bb for an area that begins in bar 7 on beat 3",
    ),
    MarkingRule(
        "areas-missing",
        "An area is missing",
        "An area was not written; it earns nothing.",
        0.0,
        0.0,
        "1 F for 1 F, 9 Ab",
    ),
    MarkingRule(
        "areas-extra",
        "An area too many",
        "An area was written where the key does not change; it costs half an area.",
        0.0,
        0.0,
        "5 G where a single dominant of the dominant stands",
    ),
)


def _in_words(key: StoredKey) -> str:
    """The keys bar by bar, as played where that is kept."""
    rows = key.get("as_played") or key["areas"]
    return ", ".join(f"{_counted(row)} {Key.parse(row['key']).display}" for row in rows)


def _counted(row: Mapping[str, Any]) -> str:
    """ "17 (written 9)": rows of a key as played have their written number, older ones and areas the other way round."""
    played, written = (row["bar"], row["written"]) if "written" in row else (row.get("played", row["bar"]), row["bar"])
    return bar_name(played, written).removeprefix("bar ")


QUESTION_KIND = QuestionKind(
    id="key-areas",
    place=60,
    name="Key areas",
    short="Keys",
    asks="Say from which bar the tune stands in which key.",
    examples=("1 F, 9 Ab, 17 F", "9 beat 3 Ab"),
    keypad=Keypad.KEY_AREAS,
    notes=None,
    needs=Needs.NOTHING,
    parts=None,
    answered_by=AnsweredBy.ANALYSIS,
    hides_chart=False,
    tells_chords=True,
    key_in_words=_in_words,
    minutes=5,
    alone=Alone(place=7, seconds=60, mixed=False, at_a_chord=False),
    table=RuleTable(3, "Key areas", _RULES),
    names_keys=False,
    upgrade=with_both_counts,
    build=build_key_areas,
    mark=mark_key_areas,
    echo=echo_key_areas,
)
