"""The changes at the piano: what each hand holds, that it can be played, and that the way through it is the shortest one.

Shells and small voicings: common practice, no single source. Low interval limits after Pease and Pullig, *Modern Jazz Voicings*
(2001), from memory. The shortest way is held against trying every way there is.
"""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ET
from typing import Any

import music21
import pytest
from django.urls import reverse
from hypothesis import given, settings
from hypothesis import strategies as st

from drills.engraving import render
from drills.hearing.expected import CannotBeHeard, score_of
from drills.line_sound import over_band
from drills.lines import piano
from drills.lines.build import Recipe
from drills.lines.line import GRAND
from drills.lines.piano import BASS, EASY, LIMITS, RIGHT, TENTH, Grip, best_path, cost, grips, muddy
from drills.mei import to_mei
from drills.musicxml import to_musicxml
from drills.sheets import in_sound
from drills.wishes import Wish
from tests import factories
from tests.drills.lines import line_for
from tests.drills.studies import FORM, symbol, symbols
from tunes.harmony.pitch.spelling import NoteName, Pitch

# Chord, the 9th that suits it, what stands on the bass in a shell, what two hands hold above the bass (names).
HELD = [
    ("Dm7", "E", {"F", "C"}, {"F", "C", "E", "A"}),
    ("G7", "A", {"B", "F"}, {"B", "F", "A", "D"}),
    ("G7b9", "Ab", {"B", "F"}, {"B", "F", "Ab", "D"}),
    ("G13", "A", {"B", "F"}, {"B", "F", "A", "E"}),
    ("G7sus4", "A", {"C", "F"}, {"C", "F", "A", "D"}),
    ("C6", "D", {"E", "A"}, {"E", "A", "D", "G"}),
    ("Cm6", "D", {"Eb", "A"}, {"Eb", "A", "D", "G"}),
    ("Cmaj7", "D", {"E", "B"}, {"E", "B", "D", "G"}),
    ("F", "G", {"A", "C"}, {"F", "A", "C"}),
    ("Bdim7", "C#", {"D", "Ab"}, {"B", "D", "F", "Ab"}),
    ("Bm7b5", "C#", {"D", "A"}, {"D", "A", "B", "F"}),
    ("C7/E", "D", {"Bb", "C"}, {"E", "Bb", "D", "G"}),
    ("F/C", "G", {"A", "F"}, {"F", "A", "C"}),
]


@pytest.mark.parametrize(("text", "ninth", "shell", "both"), HELD, ids=[row[0] for row in HELD])
def test_what_is_held(text: str, ninth: str, shell: set[str], both: set[str]) -> None:
    chord, note = symbol(text), NoteName.parse(ninth)
    assert {tone.name.text for tone in piano.partners(chord)} == shell
    assert {name.text for name in piano.colours(chord, note)} == both
    bass = (chord.bass or chord.root).text
    for grip in grips(chord, "shells"):
        assert [grip.left[0].name.text, grip.left[1].name.text in shell, grip.right] == [bass, True, ()]
    held = {frozenset(pitch.name.text for pitch in grip.upper) for grip in grips(chord, "hands", note)}
    assert held
    guides = {tone.name.text for tone in piano.partners(chord)} - {chord.root.text}
    for names in held:
        assert guides <= names | {bass}, "both guide tones sound"
        assert names <= both | shell, "and nothing that the chord does not have in its place"


@settings(max_examples=60)
@given(chord=symbols, style=st.sampled_from(piano.STYLES))
def test_every_grip_can_be_played(chord: Any, style: str) -> None:
    found = grips(chord, style, chord.tone("9"))
    assert found
    for grip in found:
        notes = [pitch.midi for pitch in (*grip.left, *grip.right)]
        assert notes == sorted(set(notes)), "low to high, hands apart"
        assert BASS[0] <= notes[0] <= BASS[1]
        assert grip.left[-1].midi - grip.left[0].midi <= TENTH
        if grip.right:
            assert RIGHT[0] <= grip.right[0].midi
            assert grip.right[-1].midi <= RIGHT[1]
            assert grip.right[-1].midi - grip.right[0].midi <= EASY
        assert not muddy(grip), "no interval below its low limit"


def test_limits_fall_as_intervals_grow_and_a_low_third_is_mud() -> None:
    lows = [LIMITS[steps].midi for steps in (1, 2, 3, 4, 7, 8)]
    assert lows[:5] == sorted(lows[:5], reverse=True)
    assert muddy(Grip((Pitch.parse("C2"), Pitch.parse("E2"))))
    assert not muddy(Grip((Pitch.parse("C3"), Pitch.parse("E3"))))
    assert not muddy(Grip((Pitch.parse("C2"), Pitch.parse("E3")))), "a tenth is clear"


@settings(max_examples=12)
@given(chords=st.lists(symbols, min_size=1, max_size=4), style=st.sampled_from(piano.STYLES))
def test_no_way_is_shorter(chords: list[Any], style: str) -> None:
    """Against every way there is, over short charts (a few grips of each chord, so that all of them can be tried)."""
    layers = [grips(chord, style, chord.tone("9"))[::3][:9] for chord in chords]
    least = min(cost(path) for path in itertools.product(*layers))
    assert cost(best_path(layers)) == pytest.approx(least)


def names_of(line: Any, voice: int) -> list[list[str]]:
    return [[p.text for p in (n.pitch, *n.stack)] for n in line.notes if n.voice == voice and n.pitch]


def test_shells_swap_3rd_and_7th_where_the_root_falls_a_fifth() -> None:
    """2 5 1 in C: 3rd and 7th change places and the upper voice falls by a half step (common practice)."""
    line = line_for("piano", Recipe("piano", "shells"), "key: C\n| Dm7 | G7 | Cmaj7 | % |")
    left = names_of(line, 2)
    assert [row[0][:-1] for row in left] == ["D", "G", "C", "C"]
    assert [row[1][:-1] for row in left] in (["C", "B", "B", "B"], ["F", "F", "E", "E"])
    assert names_of(line, 1) == []
    assert line.clef == GRAND


def test_two_hands_move_little() -> None:
    line = line_for("piano", Recipe("piano", "hands"), FORM)
    right = [[Pitch.parse(name).midi for name in row] for row in names_of(line, 1)]
    moves = [abs(sum(a) / len(a) - sum(b) / len(b)) for a, b in itertools.pairwise(right)]
    assert max(moves) <= 7, "never more than a fifth"
    assert sum(moves) / len(moves) < 3, "less than a minor third a chord"


@pytest.mark.parametrize("style", piano.STYLES)
def test_two_staves_on_the_page_and_in_files(style: str) -> None:
    """MusicXML read by music21, an independent reader; MEI read by the engraver."""
    line = line_for("piano", Recipe("piano", style), FORM)
    score = music21.converter.parseData(to_musicxml(line), format="musicxml")
    staves = list(score.parts)
    assert len(staves) == 2
    assert [str(part.recurse().getElementsByClass("Clef").first().sign) for part in staves] == ["G", "F"]
    sounding = [n for part in staves for n in part.recurse().notes if not isinstance(n, music21.harmony.Harmony)]
    heard = sorted({pitch.midi for note in sounding for pitch in note.pitches})
    assert heard == sorted({p.midi for n in line.notes if n.pitch for p in (n.pitch, *n.stack)})
    assert score.recurse().getElementsByClass("Measure").first().duration.quarterLength == 4
    svg = render(to_mei(line, filled=True))
    first = re.search(r'id="m0" class="measure.*?id="m1"', svg, re.DOTALL)
    assert first
    assert len(re.findall(r'class="staff"', first[0])) == 2
    assert ET.fromstring(to_mei(line)).tag.endswith("mei")
    sound = in_sound(line, 100)
    assert (sound["voice"], sound["chords"]) == ("shells", [])
    under = over_band(line, 100)  # no second pianist, and no bass in the way of the left hand
    assert under["drums"]
    assert not under.keys() & {"bass", "piano"}
    with pytest.raises(CannotBeHeard, match="no chords"):
        score_of(sound["notes"], [(bar[1], bar[2]) for bar in sound["bars"]], tempo=100)


def test_whoever_asks_it_is_at_the_piano_in_concert_pitch(client: Any, db: None) -> None:
    player = factories.make_player(factories.make_ensemble(), instrument="alto-sax")
    client.force_login(player)
    revision = factories.make_version(
        factories.make_tune("At the piano"), "key: F\n| Gm7 | C7/E | F6 | Bdim7 |\n| Csus4 | F | N.C. | Gm7b5 |"
    )
    address = reverse("drills:drill", args=[revision.pk])
    for start in piano.STYLES:
        page = client.get(address, {"form": "1", "kind": "piano", "piano_start": start, "instrument": "alto-sax"})
        html = page.content.decode()
        assert "F major · concert pitch" in html
        assert "at the piano" in html
        assert "No 7th in" in html
        for form in ("pdf", "musicxml", "midi"):
            assert (
                client.get(
                    reverse("drills:download", args=[revision.pk, form]), {"kind": "piano", "start": start}
                ).status_code
                == 200
            )
    assert Wish.from_query({"kind": "piano", "start": "nothing"}, instrument="trumpet").recipe.start == "shells"
