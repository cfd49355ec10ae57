"""Everything that a page can change, a program can: each writing address of tunes and work has a call, or a reason."""

from __future__ import annotations

import pytest

from tests.access_rows import api, assessments, recordings, solos, tunes

# Writing address of a page → the calls that do the same.
CALLS: dict[str, tuple[str, ...]] = {
    "tunes:tune_new": ("tunes",),
    "tunes:tune_edit": ("tune",),
    "tunes:tune_delete": ("tune",),
    "tunes:recording_new": ("recordings",),
    "tunes:recording_edit": ("recording",),
    "tunes:recording_delete": ("recording",),
    "tunes:chart_new": ("versions",),
    "tunes:chart_edit": ("revisions", "version"),
    "tunes:agree": ("version",),
    "tunes:overrule": ("overrules",),
    "tunes:withdraw_label": ("overrule",),
    "tunes:restore_label": ("restore-overrule",),
    "tunes:restore_area": ("restore-area-overrule",),
    "tunes:overrule_area": ("area-overrules",),
    "tunes:withdraw_area": ("area-overrule",),
    "tunes:idiom_new": ("idioms",),
    "tunes:naming": ("idioms",),
    "tunes:idiom_edit": ("idiom",),
    "tunes:idiom_delete": ("idiom",),
    "tunes:check-bar": ("checks",),
    "tunes:check-rest": ("checks-rest",),
    "tunes:check-withdraw": ("check",),
    "tunes:check-settle": ("settle",),
    "tunes:recording-upload": ("sound",),
    "tunes:recording-remove-sound": ("sound",),
    "tunes:recording-marks": ("form-map",),
    "tunes:recording-heard": ("heard",),
    "tunes:lead-sheet-import": ("lead-sheets",),
    "tunes:lead-sheet-keep": ("tunes", "versions"),
    "tunes:solo-new": ("solos",),
    "tunes:solo-file": ("solo-notes",),
    "tunes:solo-keep": ("solo-notes",),
    "tunes:solo-placed": ("solo-placed",),
    "tunes:solo-head": ("solo",),
    "tunes:solo-share": ("solo",),
    "tunes:solo-remove": ("solo",),
    "tunes:solo-say": ("solo-words",),
    "tunes:solo-ask": ("solo-asks",),
    "tunes:solo-take": ("solo-practice", "practice"),
    "tunes:melody-import": ("melodies",),
    "tunes:melody-remove": ("melody",),
    "work:assign": ("assignments",),
    "work:edit": ("assignment",),
    "work:release": ("release",),
    "work:close": ("closed",),
    "work:start": ("start",),
    "work:save": ("answers",),
    "work:hand-in": ("hand-in",),
    "work:step": ("send", "listening"),
    "work:comment": ("comments",),
    "work:mark": ("overrides",),
    "work:outcome": ("decision",),
    "work:accept-many": ("decision",),
    "work:sign-off": ("sign-offs",),
    "work:take-back": ("sign-off",),
    "work:requirements": ("requirements",),
    "work:mark-again": ("mark-again",),
    "work:question": ("attempt-questions",),
    "work:objection": ("question-answer",),
    "work:reading-question": ("revision-questions",),
    "work:reading-answer": ("reading-answer",),
    "work:leeway": ("leeways", "leeway"),
    "work:accept-answer": ("accepted",),
    "work:accepted-back": ("accepted-one",),
    "work:plan": ("plan",),
    "work:plan-change": ("planned",),
}
DRAFT = "what is being typed and not yet saved belongs to the window it is typed in; a program sends a whole text"
EXERCISE = "an exercise of hearing at the page, of no use to a program, and no step of an assignment"
OWN = "practice that a player does at the page, for themselves: it counts nowhere"
ALONE: dict[str, str] = {
    **dict.fromkeys(
        (
            "work:test-me",
            "work:own-save",
            "work:own-hand-in",
            "work:own-again",
            "work:desk-habit",
            "work:melody",
            "work:own-words",
        ),
        OWN,
    ),
    **dict.fromkeys(
        (
            "tunes:solo-draft",
            "tunes:draft",
            "tunes:draft_new",
            "tunes:discard",
            "tunes:discard_new",
            "tunes:take_back",
            "tunes:take_back_new",
        ),
        DRAFT,
    ),
    **dict.fromkeys(
        (
            "tunes:by-ear-start",
            "tunes:by-ear-save",
            "tunes:by-ear-undo",
            "tunes:by-ear-share",
            "tunes:by-ear-compare",
            "tunes:top-of-form-finish",
            "tunes:variants-quiz",
        ),
        EXERCISE,
    ),
    "tunes:solo-answer": "what is asked before it is told is answered by ear, at the staff where it is read",
    "work:new-term": "terms, ensembles and chairs are made on the pages of the director, with a look at all of it first",
    **dict.fromkeys(
        ("work:set-lists", "work:set-list", "work:set-packs"), "a set list is put in order by hand, for one evening"
    ),
    "work:solos-beside": "two versions are settled by ear, with the staves in view",
    "work:remind": "a reminder is a word from one person to others",
    "tunes:caution-seen": "a person reads the caution, not a program",
    **dict.fromkeys(
        ("tunes:phrase-add", "tunes:phrase-remove", "tunes:words"),
        "the map of a melody is drawn bar by bar on its page, and assignments ask nothing of it",
    ),
}


def writing() -> set[str]:
    """Addresses of tunes and work that take another method than GET, from the access table."""
    rows = [*tunes.ROWS, *recordings.ROWS, *solos.ROWS, *assessments.ROWS]
    return {row.route for row in rows if set(row.methods()) - {"get"} and row.route.split(":")[0] in ("tunes", "work")}


def test_every_writing_address_has_a_call_or_a_reason() -> None:
    assert sorted(writing() - set(CALLS) - set(ALONE)) == []
    assert sorted((set(CALLS) | set(ALONE)) - writing()) == []
    assert set(CALLS) & set(ALONE) == set()


@pytest.mark.parametrize("address", sorted(CALLS))
def test_the_calls_write(address: str) -> None:
    """Each named call exists and takes a method that changes something."""
    methods = {name: set[str]() for name in CALLS[address]}
    for row in [*api.ROWS, *solos.ROWS]:
        methods.setdefault(row.route.removeprefix("api:"), set()).update(row.methods())
    assert all(methods[name] - {"get"} for name in CALLS[address])
