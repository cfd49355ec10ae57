"""Scales of chords: names read to notes, marked for the scale and for what differs from the key.

Scale contents are definitions (logical).  Scales of diatonic chords and of secondary dominants: Nettles and Graf,
*The Chord Scale Theory and Jazz Harmony* (1997).
"""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.comparers.scale_names import read_scale
from drills.comparers.wording import reading_interval
from drills.marking import Context, Strictness, echo, mark
from drills.marking_rules import marking_rules
from drills.questions import Question, build
from tests.drills.quiz_cases import NAMES, study
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Interval, Key, NoteName
from tunes.harmony.scales.tables import SCALES, Scale

EASY = Strictness()
QUESTIONS = build("scale", study(), {"every_section": True})
BY_NAME = {NAMES[question.key["event"]]: question.key for question in reversed(QUESTIONS)}

# scale name, semitones above the root (definitions)
CONTENTS = (
    ("ionian", "0 2 4 5 7 9 11"), ("dorian", "0 2 3 5 7 9 10"), ("phrygian", "0 1 3 5 7 8 10"), ("lydian", "0 2 4 6 7 9 11"),
    ("mixolydian", "0 2 4 5 7 9 10"), ("aeolian", "0 2 3 5 7 8 10"), ("locrian", "0 1 3 5 6 8 10"), ("melodic minor", "0 2 3 5 7 9 11"),
    ("lydian b7", "0 2 4 6 7 9 10"), ("lydian dominant", "0 2 4 6 7 9 10"), ("altered", "0 1 3 4 6 8 10"), ("locrian natural 9", "0 2 3 5 6 8 10"),
    ("mixolydian b9 b13", "0 1 4 5 7 8 10"), ("phrygian dominant", "0 1 4 5 7 8 10"), ("half-whole", "0 1 3 4 6 7 9 10"),
    ("whole-half diminished", "0 2 3 5 6 8 9 11"), ("whole tone", "0 2 4 6 8 10"), ("mixolydian b13", "0 2 4 5 7 8 10"), ("super-locrian", "0 1 3 4 6 8 10"),
    ("mixo", "0 2 4 5 7 9 10"), ("jazz minor", "0 2 3 5 7 9 11"), ("lydian augmented", "0 2 4 6 8 9 11"), ("harmonic minor", "0 2 3 5 7 8 11"),
)  # fmt: skip


@pytest.mark.parametrize(("name", "semitones"), CONTENTS)
@pytest.mark.parametrize("root", ["C", "F#", "Bb"])
def test_names_of_scales_are_read_to_their_notes(name: str, semitones: str, root: str) -> None:
    reading = read_scale(f"{root} {name}")
    assert not reading.problem
    assert reading.root == NoteName.parse(root)
    pcs = {(NoteName.parse(root).pc + int(step)) % 12 for step in semitones.split()}
    assert reading.pcs(NoteName.parse(root)) == pcs


@pytest.mark.parametrize("scale", SCALES.values(), ids=lambda scale: scale.id)
def test_every_scale_the_app_shows_can_be_typed(scale: Scale) -> None:
    shown = {Key.parse("C").note_at(degree).pc for degree in scale.degrees}
    assert read_scale(scale.name).pcs(NoteName.parse("C")) == shown


# chord of the study, answer, rule, points
TABLE = (
    ("ii", "D dorian, none", "scale-exact", 1.0), ("ii", "dorian", "scale-exact", 1.0), ("ii", "C major, none", "scale-same-notes", 1.0),
    ("ii", "D aeolian, none", "scale-one-note-off", 0.7), ("ii", "D dorian: F#", "scale-name-only", 0.6), ("IV", "lydian, none", "scale-exact", 1.0),
    ("V/ii", "A mixolydian b13, C#", "scale-exact", 1.0), ("V/ii", "mixolydian, C#", "scale-one-note-off", 0.7), ("V/ii", "mixolydian b13", "scale-name-only", 0.6),
    ("V/ii", "C#", "scale-notes-only", 0.4), ("V/ii", "", "blank", 0.0), ("V/ii", "qwerty", "unreadable", 0.0), ("V/ii", "A mixolydian b13, Db", "scale-name-only", 0.9),
    ("subV", "mixolydian", "scale-one-note-off", 0.3), ("subV", "lydian b7: Db Eb Ab Bb", "scale-exact", 1.0), ("bVII7", "Bb lydian dominant, Bb Ab", "scale-exact", 1.0), ("I", "ionian, none", "scale-exact", 1.0),
)  # fmt: skip


@pytest.mark.parametrize(("name", "answer", "rule", "points"), TABLE, ids=[f"{row[1]} for {row[0]}" for row in TABLE])
def test_the_marking_table(name: str, answer: str, rule: str, points: float) -> None:
    found = mark("scale", BY_NAME[name], answer, EASY)
    assert found.rule in rule.split("|")
    assert found.points == points


@pytest.mark.parametrize("key", MAJOR_KEYS, ids=lambda key: key.short)
@pytest.mark.parametrize("written", ["P1", "M2", "M6"])
def test_the_keys_own_answer_marks_full_in_every_key_and_pitch(key: Key, written: str) -> None:
    for question in build("scale", study(key)):
        move = reading_interval(question.key, Context("", written))
        for scale in question.key["scales"]:
            root = (NoteName.parse(question.key["root"]) + move).text
            differs = " ".join((NoteName.parse(note) + move).text for note in scale["differs"]) or "none"
            found = mark("scale", question.key, f"{root} {scale['name']}: {differs}", EASY, Context("", written))
            assert found.points == 1, (question.prompt, scale)


def test_asked_once_for_each_chord_and_function() -> None:
    asked = build("scale", study())
    assert len(asked) < len(QUESTIONS)
    assert len({(q.key["chord"], q.key["key"]) for q in asked}) == len(asked)
    for question in asked:
        assert Question.from_json(json.loads(json.dumps(question.to_json()))) == question
        assert "scales" not in question.context


def test_the_echo_says_scale_and_notes() -> None:
    assert echo("scale", "a mixolydian b13: c#").text == "A mixolydian b13, note C♯"
    assert not echo("scale", "something").ok


@given(st.text(max_size=500))
def test_no_text_breaks_it(text: str) -> None:
    found = mark("scale", BY_NAME["V/ii"], text, EASY, Context("C major", "M6"))
    assert 0 <= found.points <= 1
    assert found.rule in marking_rules()


def test_the_melody_overrules_the_scale_that_is_asked() -> None:
    """Common practice, no source: the melody of the reference decides over the usual scale."""
    first = QUESTIONS[0].key["event"]
    root = NoteName.parse(QUESTIONS[0].key["root"])
    sharp_four = root + Interval.parse("A4")
    plain = build("scale", study())[0].key
    told = build("scale", study(), heard=lambda event: [sharp_four] if event == first else [])[0].key
    assert (plain["scales"][0]["id"], plain["overridden"]) == ("ionian", False)
    assert (told["scales"][0]["id"], told["overridden"]) == ("lydian", True)
    assert "melody" in told["reason"]


def test_a_diminished_scale_is_right_in_either_spelling_and_shown_by_step() -> None:
    """The scale is by definition a tone and a semitone in turn; which letter comes twice is free (common practice, no source)."""
    notes = ["C", "D", "Eb", "F", "Gb", "Ab", "Bbb", "B"]
    key = {
        "kind": "scale", "event": 0, "chord": "Cdim7", "home": "C major", "key": "C major", "root": "C", "bar": 1, "reason": "",
        "overridden": False, "scales": [{"id": "whole-half", "name": "whole-half diminished", "notes": notes, "differs": ["Eb", "Gb", "Ab"]}],
    }  # fmt: skip
    for spelled in ("Eb Gb Ab", "D# F# G#", "Eb F# Ab"):
        assert mark("scale", key, f"whole-half diminished, {spelled}", EASY).points == 1
    assert mark("scale", key, "whole-half diminished, Eb Gb", EASY).points < 1
    assert "C D E♭ F G♭ A♭ A B" in mark("scale", key, "", EASY).feedback
    alto = mark("scale", key, "", EASY, Context("", "M6")).feedback
    assert "♭♭" not in alto
    assert "♯♯" not in alto
