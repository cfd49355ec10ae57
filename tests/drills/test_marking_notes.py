"""Questions answered with notes: chord tones, 3rds and 7ths, the guide-tone line, the nearest note, changes by ear.

Guide-tone lines of the table: common practice, no source (definition: 3rd and 7th, the 6th for the 7th of sixth chords, the
4th for the 3rd of suspended ones).  Chord spellings: MusicXML 4.0 kinds and Harte et al. 2005, from the degrees.
"""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drills.comparers.guide_line import movement, smoothness
from drills.comparers.note_names import read_notes
from drills.comparers.notes import compare_notes
from drills.marking import Context, Strictness, echo, mark
from drills.marking_rules import marking_rules
from drills.questions import Question, build
from tests.drills.quiz_cases import Study, studied, study
from tests.drills.studies import chart, symbol
from tunes.harmony.analysis.pipeline import Analysis
from tunes.harmony.pitch.spelling import MAJOR_KEYS, Interval, Key, NoteName

EASY = Strictness()
NOTE_KINDS = ("chord-tones", "guide-tones", "nearest", "guide-line")


def ask(kind: str, bars: str, home: str = "C", seed: int = 0) -> tuple[Question, ...]:
    """Questions on a line of bars."""
    key = Key.parse(home)
    return build(
        kind,
        Study(
            chart(f"key: {key.text}\n| {bars} |"),
            Analysis(home=key, areas=(), readings=(), landing=(), engine="by hand"),
        ),
        None,
        seed,
    )


@pytest.mark.parametrize("answer", ["C Eb Gb Bbb", "C Eb Gb A"])
def test_a_diminished_seventh_may_be_read_as_a_sixth(answer: str) -> None:
    """Common practice, no source."""
    (question,) = ask("chord-tones", "Cdim7")
    assert mark("chord-tones", question.key, answer, EASY).points == 1
    assert mark("chord-tones", question.key, answer.replace("Eb", "D#"), EASY).points < 1, "the third has one name"


READ = (
    ("C E G", "C E G"), ("c e g", "C E G"), ("CEG", "C E G"), ("Bb", "B♭"), ("bb", "B♭"), ("B♭", "B♭"), ("B flat", "B♭"), ("f#", "F♯"), ("Fx", "F♯♯"),
    ("D, F, A & C".replace("&", "and"), "D F A C"), ("F-F-E", "F F E"), ("F–F–E", "F F E"), ("3: E, 7: Bb", "E B♭"), ("E4 G4", "E G"), ("𝄫", ""), ("DFAC", "D F A C"), ("Ebb", "E♭♭"),
)  # fmt: skip


@pytest.mark.parametrize(("text", "shown"), [row for row in READ if row[1]])
def test_note_names_are_read(text: str, shown: str) -> None:
    assert read_notes(text).echo == shown


@pytest.mark.parametrize(
    ("text", "hint"),
    [("Es", "Eb"), ("H", "B"), ("fis", "F#"), ("As", "Ab"), ("do", "letters"), ("Q", "C, Bb or F#"), ("", "C E G")],
)
def test_other_names_get_a_hint(text: str, hint: str) -> None:
    reading = read_notes(text)
    assert reading.problem is not None
    assert hint in reading.problem.suggestion


# Chord: spelling of every tone asked (natural tensions may be left out).
SPELLED = (
    ("Cmaj7", "C E G B"), ("Dm7", "D F A C"), ("G7", "G B D F"), ("Bm7b5", "B D F A"), ("F#dim7", "F# A C Eb"), ("Eb6", "Eb G Bb C"),
    ("Abm(maj7)", "Ab Cb Eb G"), ("D7b9", "D F# A C Eb"), ("G7sus4", "G C D F"), ("C13", "C E G Bb"), ("E+7", "E G# B# D"), ("Gb7", "Gb Bb Db Fb"),
    ("B7alt", "B D# A"),
)  # fmt: skip


@pytest.mark.parametrize(("chord", "tones"), SPELLED)
def test_chord_tones_are_spelled_by_letter(chord: str, tones: str) -> None:
    (question,) = ask("chord-tones", chord)
    assert mark("chord-tones", question.key, tones, EASY).points == 1
    assert mark("chord-tones", question.key, " ".join(reversed(tones.split())), EASY).points == 1, "in any order"
    for_all = " ".join(tone.text for tone in symbol(chord).tones)
    assert mark("chord-tones", question.key, for_all, EASY).points == 1, "tensions of the symbol may be added"


TONES = (
    ("B F", "notes-exact", 1.0), ("F B", "notes-exact", 1.0), ("Cb F", "notes-enharmonic", 0.88), ("B", "notes-missing", 0.5), ("B F A", "notes-extra", 0.75),
    ("B E", "notes-missing", 0.25), ("C", "other", 0.0), ("", "blank", 0.0), ("Es", "unreadable", 0.0), ("none", "notes-missing", 0.0),
)  # fmt: skip


@pytest.mark.parametrize(("answer", "rule", "points"), TONES)
def test_third_and_seventh(answer: str, rule: str, points: float) -> None:
    (question,) = ask("guide-tones", "G7")
    found = mark("guide-tones", question.key, answer, EASY)
    assert (found.rule, found.points) == (rule, points)


@pytest.mark.parametrize(
    ("chord", "tones"), [("C6", "E A"), ("G7sus4", "C F"), ("Cm6", "Eb A"), ("F#dim7", "A Eb"), ("C", "E")]
)
def test_what_stands_for_third_and_seventh(chord: str, tones: str) -> None:
    (question,) = ask("guide-tones", chord)
    assert mark("guide-tones", question.key, tones, EASY).points == 1


# Guide-tone lines in C, both beginnings (common practice, no source).
LINES = (
    ("Dm7 | G7 | Cmaj7", "F F E", "C B B"), ("Dm7b5 | G7 | Cm7", "F F Eb", "C B Bb"), ("Dm7 | Db7 | Cmaj7", "F F E", "C Cb B"),
    ("E7 | A7 | D7 | G7", "G# G F# F", "D C# C B"), ("Fm7 | Bb7 | Cmaj7", "Ab Ab G", "Eb D E"),
)  # fmt: skip


@pytest.mark.parametrize("key", MAJOR_KEYS, ids=lambda key: key.short)
@pytest.mark.parametrize(("bars", "one", "other"), LINES)
def test_lines_of_the_handbook_in_twelve_keys(key: Key, bars: str, one: str, other: str) -> None:
    move = Key.parse("C").tonic.interval_to(key.tonic)
    moved = " | ".join(symbol(text).transposed(move).text for text in bars.split(" | "))
    (question,) = ask("guide-line", moved, key.text)
    best = mark("guide-line", question.key, _moved(one, move), EASY)
    assert (best.points, best.rule) == (1, "notes-exact")
    second = mark("guide-line", question.key, _moved(other, move), EASY)
    assert second.points >= 0.85
    assert second.rule in ("notes-exact", "line-not-smoothest", "notes-enharmonic")


def _moved(notes: str, move: Interval) -> str:
    return " ".join((NoteName.parse(name) + move).text for name in notes.split())


LINE_MARKS = (
    ("F F E", "notes-exact", 1.0), ("F B E", "line-not-smoothest", 0.73), ("F G E", "line-chord-tone", 0.56), ("F F", "notes-missing", 0.47),
    ("F E# E", "notes-enharmonic", 0.92), ("F F E C", "notes-extra", 0.7), ("G# A Bb", "other", 0.0), ("", "blank", 0.0),
)  # fmt: skip


@pytest.mark.parametrize(("answer", "rule", "points"), LINE_MARKS)
def test_a_line_is_marked_for_notes_and_for_smoothness(answer: str, rule: str, points: float) -> None:
    (question,) = ask("guide-line", "Dm7 | G7 | Cmaj7")
    found = mark("guide-line", question.key, answer, EASY)
    assert (found.rule, found.points) == (rule, points)


def test_lines_are_asked_by_section_and_repeats_once() -> None:
    asked = build("guide-line", study())
    assert [(question.context["section"], question.bar) for question in asked] == [
        ("A", 1),
        ("A", 9),
        ("B", 17),
        ("A", 25),
    ]
    same = build(
        "guide-line",
        Study(
            chart("[A]\n| Dm7 | G7 |\n[A]\n| Dm7 | G7 |"),
            Analysis(home=Key.parse("C"), areas=(), readings=(), landing=(), engine=""),
        ),
    )
    assert len(same) == 1


NEAREST = (
    ("B", 1.0, "notes-exact"),
    ("Cb", 0.75, "notes-enharmonic"),
    ("E", 0.4, "nearest-chord-tone"),
    ("F#", 0.0, "other"),
    ("B E", 0.5, "notes-extra"),
)


@pytest.mark.parametrize(("answer", "points", "rule"), NEAREST)
def test_the_nearest_note(answer: str, points: float, rule: str) -> None:
    key = {"kind": "nearest", "bar": 1, "home": "C major", "chord": "Dm7", "next": "G7sus4", "from": "C", "degree": "b7", "nearest": ["B"],
           "tones": ["G", "B", "E"], "distance": 1}  # fmt: skip
    found = mark("nearest", key, answer, EASY)
    assert (found.points, found.rule) == (points, rule)


@pytest.mark.parametrize("seed", range(8))
def test_nearest_is_nearest(seed: int) -> None:
    for question in ask("nearest", "Dm7 | G7 | Cmaj7 | Ebdim7 | Fm6 | Bb13 | E7alt | Am9", seed=seed):
        key = question.key
        origin = NoteName.parse(key["from"])
        ways = {
            tone: min((NoteName.parse(tone).pc - origin.pc) % 12, (origin.pc - NoteName.parse(tone).pc) % 12)
            for tone in key["tones"]
        }
        assert set(key["nearest"]) == {tone for tone, way in ways.items() if way == min(ways.values())}
        assert key["distance"] == min(ways.values())
        assert "nearest" not in question.context
        assert mark("nearest", key, key["nearest"][0], EASY).points == 1


CHANGES = (
    ("G13", "same", 1.0), ("Db7", "tritone-substitute", 0.75), ("Bdim7", "rootless-dominant", 0.75), ("Bm7b5", "upper-part", 0.75), ("Dm7", "two-for-five", 0.5),
    ("Gm7", "other-quality", 0.5), ("G7sus4", "suspension", 0.9), ("G7/B", "same-bass-differs", 0.7), ("G", "plain-triad", 0.8), ("Bb7", "backdoor", 0.5), ("F#m7", "contradicts", 0.0),
)  # fmt: skip


@pytest.mark.parametrize(("heard", "relation", "points"), CHANGES)
def test_changes_by_ear_chord_by_chord(heard: str, relation: str, points: float) -> None:
    """Bar 2 of the study is Dm7 G7: the first is given right, so that the bar earns the mean of 1 and the second."""
    key = build("changes", study())[1].key
    assert [chord["chord"] for chord in key["chords"]] == ["Dm7", "G7"]
    found = mark("changes", key, f"Dm7 {heard}", EASY)
    assert (found.rule, found.points) == (f"changes-{relation}", pytest.approx((1 + points) / 2))
    assert found.feedback.endswith("Bar 2 has Dm7 G7.")


# One bar of four beats as typed against Dm7 G7 (two beats each): points, rule, and what the feedback says.
# Spreading chords evenly over a bar and a slash for each beat: the notation of the charts themselves.
BARS = (
    ("Dm7 G7", 1.0, "changes-same", "Bar 2 has Dm7 G7."),
    ("D-7 G13", 1.0, "changes-same", ""),
    ("Dm7 / G7 /", 1.0, "changes-same", ""),
    ("Dm7", 0.75, "changes-two-for-five", "Beat 3, G7: You heard the 2 of this pair; here its 5 sounds already."),
    ("G7", 0.75, "changes-two-for-five", "Beat 1, Dm7: You heard the 5 of this pair; here its 2 still sounds."),
    (
        "D7 G7",
        0.75,
        "changes-other-quality",
        "Right root, other kind of chord, other function in the key.",
    ),
    ("Dm7 Em7 G7 A7", 1.0, "changes-same", "You also wrote Em7 and A7 there"),
    ("Dm7b5 G7", 0.75, "changes-other-quality", "listen to the 5th."),
    ("Dm7 / / G7", 0.75, "changes-two-for-five", "You also wrote G7 there"),
    ("Dm7 Gxy", 0.5, "unreadable", "Beat 3, G7: nothing readable"),
    ("N.C.", 0.0, "changes-contradicts", "A chord sounds there."),
    ("", 0.0, "blank", "Bar 2 has Dm7 G7."),
    ("?", 0.0, "blank", "Bar 2 has Dm7 G7."),
    (
        "Dm7 Qx",
        0.5,
        "unreadable",
        "“Qx” does not begin with a note name from A to G. Type a chord such as Dm7, or leave it out.",
    ),
    ("Dm7 | G7", 0.0, "unreadable", "no bar lines here"),
    ("%", 0.0, "unreadable", "every bar is heard for itself"),
)


@pytest.mark.parametrize(("typed", "points", "rule", "says"), BARS)
def test_a_whole_bar(typed: str, points: float, rule: str, says: str) -> None:
    found = mark("changes", build("changes", study())[1].key, typed, EASY)
    assert (found.points, found.rule) == (pytest.approx(points), rule)
    assert says in found.feedback


def test_changes_are_typed_and_told_in_written_pitch() -> None:
    """An alto part stands a major sixth above concert pitch (check values: written transpositions)."""
    found = mark("changes", build("changes", study())[1].key, "Bm7 E7", EASY, Context("C major", "M6"))
    assert (found.points, found.feedback) == (1.0, "Bar 2 has Bm7 E7.")


def test_bass_notes_alone() -> None:
    bass = build("changes", study(), {"part": "bass"})[1]
    assert "bass" in bass.prompt
    cases = {"D G": 1.0, "d g": 1.0, "D B": 0.75, "D": 0.75, "D C#": 0.5, "F# C#": 0.0, "Es": 0.0}
    assert {text: mark("changes", bass.key, text, EASY).points for text in cases} == cases
    assert echo("changes", "d g", {"part": "bass"}).text == "bass D  G"


def test_a_bar_without_a_chord() -> None:
    made = build("changes", study())
    silent = next(q for q in made if q.key["chords"][0]["chord"] == "N.C.")
    assert [mark("changes", silent.key, text, EASY).points for text in ("N.C.", "C")] == [1, 0]


def test_a_question_of_changes_does_not_say_how_many_chords_there_are() -> None:
    """Everything that may be shown, for a chart and for another over the same bars, is the same."""
    form = "key: C major\n[A]\n|: {} | {} :|\n[B]\n| {} |1. {} | {} |"
    one, two = (
        [{k: v for k, v in q.to_json().items() if k != "key"} for q in build("changes", studied(chart(text)))]
        for text in (
            form.replace("1. ", "").format("C", "F G", "Dm7", "G7", "C"),
            form.replace("1. ", "").format("Am7 D7 Gm7 C7", "C", "Bb7 A7", "N.C.", "C"),
        )
    )
    assert one == two
    assert [q["event"] for q in one] == [None] * 5


def test_bars_played_again_through_a_repeat_are_asked_once_unless_wanted() -> None:
    made = studied(chart("key: C major\n[A]\n|: Dm7 | G7 :|\n[B]\n| C | % |"))
    assert [q.bar for q in build("changes", made)] == [1, 2, 3, 4]
    again = build("changes", made, {"every_section": True})
    assert [(q.bar, q.prompt) for q in again][2] == (1, "Bar 3 (written 1): which chords do you hear?")
    assert len({q.id for q in again}) == 6


ALL = {kind: build(kind, study(), {"every_section": True}, 5) for kind in NOTE_KINDS}


@pytest.mark.parametrize("kind", NOTE_KINDS)
def test_questions_survive_json_and_hide_their_key(kind: str) -> None:
    for question in ALL[kind]:
        assert Question.from_json(json.loads(json.dumps(question.to_json()))) == question
        assert not {"asked", "nearest", "lines", "options"} & set(question.context)


def own_answer(key: dict, written: Interval) -> str:
    """The key's own answer in the pitch a player reads."""
    names = {"nearest": lambda: key["nearest"][:1], "guide-line": lambda: key["lines"][0]["notes"]}
    found = names.get(key["kind"], lambda: [note for _, note in key["asked"]])()
    return " ".join((NoteName.parse(name) + written).text for name in found)


@pytest.mark.parametrize("kind", NOTE_KINDS)
@pytest.mark.parametrize("written", ["P1", "M2", "M6", "M9", "M13"])
def test_the_keys_own_answer_marks_full_in_any_pitch(kind: str, written: str) -> None:
    for question in ALL[kind]:
        found = mark(kind, question.key, own_answer(question.key, Interval.parse(written)), EASY, Context("", written))
        assert found.points == 1, question.prompt


def test_prompts_name_chords_and_notes_in_the_players_pitch() -> None:
    (question,) = ask("nearest", "Dm7 | G7", seed=1)
    assert question.prompt_in("P1").startswith("Bar 1: from ")
    assert "of Dm7, which note of G7 is nearest?" in question.prompt_in("P1")
    assert "of Bm7, which note of E7 is nearest?" in question.prompt_in("M6")
    assert "{" not in question.prompt_in("M2")
    (line,) = ask("guide-line", "Dm7 | G7 | Cmaj7")
    assert "through Em7 A7 Dmaj7, one note for each chord" in line.prompt_in("M2")


def test_written_pitch_avoids_keys_nobody_reads() -> None:
    questions = ask("chord-tones", "Bmaj7", "B major")
    assert mark("chord-tones", questions[0].key, "Ab C Eb G", EASY, Context("", "M6")).points == 1, (
        "A flat, not G sharp"
    )


pitch_names = st.sampled_from([NoteName.from_fifths(n) for n in range(-8, 12)])


@given(st.lists(pitch_names, max_size=6), st.lists(pitch_names, min_size=1, max_size=5, unique=True), pitch_names)
def test_one_right_note_more_never_costs(given_notes: list[NoteName], asked: list[NoteName], move_to: NoteName) -> None:
    pairs = [(str(i), note) for i, note in enumerate(asked)]
    base = compare_notes(given_notes, pairs).points
    assert 0 <= base <= 1
    for note in asked:
        if note not in given_notes:
            assert compare_notes([*given_notes, note], pairs).points >= base - 1e-9
    move = NoteName("C").interval_to(move_to)
    moved = compare_notes([note + move for note in given_notes], [(degree, note + move) for degree, note in pairs])
    assert moved.points == base


@given(st.lists(pitch_names, min_size=1, max_size=12))
def test_smoothness_is_a_share(notes: list[NoteName]) -> None:
    assert 0 < smoothness(movement(notes), 1) <= 1
    assert movement(notes) <= 6 * (len(notes) - 1)


@given(st.text(max_size=700), st.sampled_from([*NOTE_KINDS, "changes"]), st.integers(0, 3))
def test_no_text_breaks_marking(text: str, kind: str, place: int) -> None:
    question = (ALL | {"changes": build("changes", study())})[kind][place]
    found = mark(kind, question.key, text, EASY, Context("C major", "M6"))
    assert 0 <= found.points <= 1
    assert found.rule in marking_rules()
    shown = echo(kind, text)
    assert shown.ok or 0 <= shown.start <= shown.end <= len(text)
