"""A keyboard on the page: notes read as chords, what was played judged against the chart, results as practice.

Names of chords are held against music21's own naming of the same notes (an independent library). What a verdict is worth: common
practice, no source. Web MIDI itself is simulated in tests/browser/test_keyboard.py.
"""

from __future__ import annotations

import json
import uuid
from typing import Any

import music21
import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from drills.keyboard.judge import VERDICTS, judge
from drills.lines.scales import ChordScale
from drills.models import Practice
from tests import factories
from tests.drills.studies import symbol
from tunes.harmony.chords.from_notes import chords_of
from tunes.harmony.pitch.spelling import Key, NoteName
from tunes.models import EarResult

C = Key.parse("C")
# Steps above the root, our kind, music21's common name of the same notes in root position.
SHAPES = [
    ((0, 4, 7), "", "major triad"), ((0, 3, 7), "m", "minor triad"), ((0, 3, 6), "dim", "diminished triad"),
    ((0, 4, 8), "aug", "augmented triad"), ((0, 4, 7, 10), "7", "dominant seventh chord"),
    ((0, 4, 7, 11), "maj7", "major seventh chord"), ((0, 3, 7, 10), "m7", "minor seventh chord"),
    ((0, 3, 6, 10), "m7b5", "half-diminished seventh chord"), ((0, 3, 6, 9), "dim7", "diminished seventh chord"),
]  # fmt: skip


@pytest.mark.parametrize(("steps", "kind", "name"), SHAPES, ids=[row[2] for row in SHAPES])
def test_notes_are_named_as_music21_names_them(steps: tuple[int, ...], kind: str, name: str) -> None:
    """Our reading of the keys, spelled by us, is given to music21: its name and its root are those of the shape."""
    for root in range(48, 60):
        notes = [root + step for step in steps]
        found = chords_of(notes, C)[0]
        outside = music21.chord.Chord([tone.text.replace("b", "-") for tone in found.tones])
        assert outside.commonName == name
        assert outside.root().pitchClass == found.root.pc == root % 12
        assert found.pcs == {note % 12 for note in notes}
        assert found.kind_text == symbol(f"C{kind}").kind_text
        if kind in ("aug", "dim7"):
            continue  # every note of these may be the root: the bass decides
        turned = [*notes[1:], notes[0] + 12]
        readings = chords_of(turned, C)
        assert root % 12 in {one.root.pc for one in readings}
        assert all((one.bass or one.root).pc == turned[0] % 12 for one in readings)


@given(notes=st.lists(st.integers(30, 90), min_size=1, max_size=8))
def test_what_is_named_holds_the_notes(notes: list[int]) -> None:
    for found in chords_of(notes, C):
        assert {note % 12 for note in notes} <= found.pcs | ({found.bass.pc} if found.bass else set())
        assert (found.bass or found.root).pc == min(notes) % 12


def scale(*names: str) -> ChordScale:
    return ChordScale("for a test", tuple(NoteName.parse(name) for name in names), "")


MIXOLYDIAN = scale("G", "A", "B", "C", "D", "E", "F")
DORIAN = scale("D", "E", "F", "G", "A", "B", "C")
IONIAN = scale("C", "D", "E", "F", "G", "A", "B")
# The chord, its scale, the keys (MIDI), the verdict, its share, a word of the sentence.
PLAYED = [
    ("G7", MIXOLYDIAN, (43, 53, 59), "right", 1.0, "3rd and 7th"),
    ("G7", MIXOLYDIAN, (43, 53, 57, 59, 64), "right", 1.0, ""),  # with 9 and 13
    ("G7", MIXOLYDIAN, (53, 57, 59, 64), "rootless", 1.0, "root"),
    ("G7", MIXOLYDIAN, (47, 53, 55), "inverted", 0.8, "G belongs below"),
    ("G7", MIXOLYDIAN, (43, 50, 59), "no-seventh", 0.6, "F"),
    ("G7", MIXOLYDIAN, (43, 50, 53), "no-third", 0.5, "B"),
    ("G7", MIXOLYDIAN, (43, 50), "bare", 0.25, "B, F"),
    ("G7", MIXOLYDIAN, (43,), "bare", 0.25, "B, F"),
    ("G7", MIXOLYDIAN, (49, 53, 56, 59), "other-chord", 0.75, "D♭7 for G7"),
    ("G7", MIXOLYDIAN, (50, 53, 57, 60), "other-chord", 0.5, "Dm7 for G7"),
    ("G7", MIXOLYDIAN, (43, 53, 54, 59), "outside", 0.25, "F♯ is not in G7"),
    ("G7", MIXOLYDIAN, (43, 54, 58), "outside", 0.0, "not in G7"),
    ("G7", MIXOLYDIAN, (), "nothing", 0.0, ""),
    ("Dm7", DORIAN, (50, 53, 60), "right", 1.0, ""),
    ("Cmaj7", IONIAN, (48, 52, 53, 59), "outside", 0.25, "F is not in Cmaj7"),  # the avoid note
    ("Cmaj7", IONIAN, (52, 55, 59, 62), "rootless", 1.0, ""),
    ("C/E", IONIAN, (52, 55, 60), "right", 1.0, ""),
    ("C/E", IONIAN, (48, 52, 55), "inverted", 0.8, "E belongs below"),
    ("F", scale("F", "G", "A", "Bb", "C", "D", "E"), (53, 57), "right", 1.0, ""),
    ("G7sus4", MIXOLYDIAN, (43, 53, 60), "right", 1.0, ""),
    ("C6", IONIAN, (48, 57, 64), "right", 1.0, ""),
    ("Bdim7", scale("B", "C#", "D", "E", "F", "G", "Ab", "Bb"), (47, 50, 53, 56), "right", 1.0, ""),
]  # fmt: skip


@pytest.mark.parametrize(
    ("chord", "over", "notes", "verdict", "credit", "word"),
    PLAYED,
    ids=[f"{r[0]}-{r[3]}-{n}" for n, r in enumerate(PLAYED)],
)
def test_what_was_played(
    chord: str, over: ChordScale, notes: tuple[int, ...], verdict: str, credit: float, word: str
) -> None:
    found = judge(symbol(chord), notes, over, C)
    assert (found.verdict.id, found.credit) == (verdict, credit), found.sentence
    assert word in found.sentence


def test_every_verdict_is_met() -> None:
    assert {row[3] for row in PLAYED} == set(VERDICTS)


# --- the page


@pytest.fixture
def player(db: None) -> Any:
    return factories.make_player(factories.make_ensemble(), instrument="alto-sax")


def test_a_chorus_is_judged_and_noted_once(player: Any, client: Client) -> None:
    client.force_login(player)
    revision = factories.make_version(factories.make_tune("Keys", key="C major"), "key: C\n| Dm7 | G7 | Cmaj7 | N.C. |")
    page = client.get(reverse("drills:keyboard", args=[revision.pk]))
    assert "Concert pitch" in page.content.decode(), "whatever one plays otherwise"
    chords = page.context["setting"]["chords"]
    assert [row["text"] for row in chords] == ["Dm7", "G7", "Cmaj7"]
    one = client.get(reverse("drills:keyboard_judge", args=[revision.pk]), {"event": 1, "notes": "49,53,59"}).json()
    assert one["name"] == "Another chord"
    assert "D♭7 for G7" in one["sentence"]
    assert one["right"] is False
    played = [[0, [50, 53, 60]], [1, [43, 50, 59]]]
    sent = {"played": json.dumps(played), "tempo": "100", "token": str(uuid.uuid4()), "in_time": "on"}
    for _ in range(2):
        done = client.post(reverse("drills:keyboard", args=[revision.pk]), sent)
    html = done.content.decode()
    assert "Without its 7th" in html
    assert "Not played" in html
    result = EarResult.objects.get()
    assert (result.kind, round(result.score, 3)) == ("at-the-piano", round((1 + 0.6 + 0) / 3, 3))
    practice = Practice.objects.get()
    assert (practice.went, practice.tempo) == ("fell apart", 100)
    free = {"played": json.dumps(played[:1]), "tempo": "100", "token": str(uuid.uuid4())}
    few = client.post(reverse("drills:keyboard", args=[revision.pk]), free)
    assert "1 of 1 chord right. Not noted yet" in few.content.decode()
    free |= {"played": json.dumps(played)}
    client.post(reverse("drills:keyboard", args=[revision.pk]), free)
    assert EarResult.objects.count() == 2
    assert Practice.objects.order_by("-pk")[0].went == "with slips", "what was not reached is not held against anybody"


def test_what_is_no_chord_or_no_note_is_told(player: Any, client: Client) -> None:
    client.force_login(player)
    revision = factories.make_version(factories.make_tune("Junk"), "key: C\n| Dm7 | G7 |")
    address = reverse("drills:keyboard_judge", args=[revision.pk])
    for asked in (
        {"event": "9", "notes": "60"},
        {"event": "x", "notes": "60"},
        {"event": "0", "notes": "a,b"},
        {"event": "0", "notes": "200"},
    ):
        answer = client.get(address, asked)
        assert answer.status_code == 422
        assert answer.json()["problem"]
    page = reverse("drills:keyboard", args=[revision.pk])
    for played in ("", "x", "[]", "[1]", "[[0, 5]]", "[[0, [300]]]", '[["a", [60]]]', "[[77, [60]]]"):
        assert client.post(page, {"played": played, "tempo": "100", "token": str(uuid.uuid4())}).status_code == 422, (
            played
        )
    assert client.post(page, {"played": "[[0, [60]]]", "tempo": "9", "token": "z"}).status_code == 422
    assert not EarResult.objects.exists()
    name = reverse("tunes:by-ear-chord")
    assert client.get(name, {"notes": "50,53,57,60", "key": "C"}).json()["chords"][0] == "Dm7"
    assert client.get(name, {"notes": "50,53,57,60", "key": "A", "up": "9"}).json()["chords"][0] == "Bm7", (
        "read by an alto"
    )
    assert client.get(name, {"notes": "60,x", "key": "H"}).status_code == 422
