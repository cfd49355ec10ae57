"""Solos written out: the notes as stored, what they add up to, drafts of two windows, who is told."""
from __future__ import annotations

import json
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from studio.instruments import INSTRUMENTS
from studio.models import Notice
from tests import factories
from tunes.harmony.pitch.spelling import Interval, Pitch
from tunes.models import ImmutableNotes, Solo
from tunes.solos import selectors, services
from tunes.solos.bars import Covers, solo_form
from tunes.solos.notes import (
    TUPLETS,
    Entry,
    NotesProblem,
    count,
    moved,
    read_notes,
    sounding,
    write_notes,
)
from tunes.study import study_of_text

WALTZ = "key: G major\nmetre: 3/4\n\nA:\n|: Gmaj7 | Am7 D7 :|\nB:\n| Cm6 | <4/4> D7 |"
HALF, THIRD, ONE = Fraction(1, 2), Fraction(1, 3), Fraction(1)


def note(text: str, length: Fraction = ONE, **more: Any) -> Entry:
    return Entry(length, Pitch.parse(text), **more)


REFUSED = {
    "another version": ({"version": 2, "notes": []}, "another version"),
    "no object": ([], "another version"),
    "no list": ({"version": 1, "notes": {}}, "not a list"),
    "a bar too far": ({"version": 1, "notes": [{"bar": 3, "at": "0", "length": "1"}]}, "stands in bar 3"),
    "no bar": ({"version": 1, "notes": [{"bar": True, "at": "0", "length": "1"}]}, "stands in bar True"),
    "a gap": ({"version": 1, "notes": [{"bar": 1, "at": "1", "length": "1"}]}, "Bar 1: entry 1 does not begin"),
    "no time": ({"version": 1, "notes": [{"bar": 1, "at": "0", "length": "1/0"}]}, "is not a time"),
    "a number": ({"version": 1, "notes": [{"bar": 1, "at": "0", "length": 1}]}, "is not a time"),
    "too fine": ({"version": 1, "notes": [{"bar": 1, "at": "0", "length": "1/11"}]}, "finer or longer"),
    "nothing": ({"version": 1, "notes": [{"bar": 1, "at": "0", "length": "0"}]}, "longer than nothing"),
    "no pitch": ({"version": 1, "notes": [{"bar": 1, "at": "0", "length": "1", "pitch": "H4"}]}, "is not a pitch"),
    "off the staff": ({"version": 1, "notes": [{"bar": 1, "at": "0", "length": "1", "pitch": "C12"}]}, "beyond"),
    "a tuplet": ({"version": 1, "notes": [{"bar": 1, "at": "0", "length": "1", "tuplet": [9, 8]}]}, "a tuplet is one of"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_is_no_music_is_refused_where_it_stands(case: str) -> None:
    stored, words = REFUSED[case]
    with pytest.raises(NotesProblem, match=words):
        read_notes(stored, 2)


entries = st.builds(
    lambda value, tuplet, pitch, tie, ghost, guess: Entry(
        value * TUPLETS[tuplet] / tuplet if tuplet else value, Pitch.parse(pitch) if pitch else None, tuplet,
        tie and bool(pitch), ghost, guess),
    st.sampled_from([Fraction(1, 8), Fraction(1, 4), Fraction(1, 2), Fraction(3, 4), Fraction(1), Fraction(3)]),
    st.sampled_from([0, *TUPLETS]), st.one_of(st.none(), st.sampled_from(["Bb4", "F#5", "Cb4", "E3", "B#4"])),
    st.booleans(), st.booleans(), st.booleans(),
)  # fmt: skip
music = st.lists(st.lists(entries, max_size=12).map(tuple), min_size=1, max_size=6).map(tuple)


@given(music)
def test_stored_notes_come_back(bars: Any) -> None:
    stored = json.loads(json.dumps(write_notes(bars)))
    assert read_notes(stored, len(bars)) == bars


@given(music, st.sampled_from(["M2", "M6", "M9", "-m3", "P8"]))
def test_written_pitch_and_back_loses_no_spelling(bars: Any, interval: str) -> None:
    there = Interval.parse(interval)
    assert moved(moved(bars, there), -there) == bars


@given(music)
def test_what_sounds_lies_in_its_bars_and_nothing_overlaps(bars: Any) -> None:
    starts, lengths = [Fraction(4 * i) for i in range(len(bars))], [Fraction(4)] * len(bars)
    heard = sounding(bars, starts, lengths)
    assert all(one.onset + one.duration <= other.onset for one, other in pairwise(heard))
    assert all(starts[one.bar] <= one.onset < starts[one.bar] + 4 for one in heard)
    assert len(heard) <= sum(entry.pitch is not None for bar in bars for entry in bar)


def test_ties_are_one_note_over_the_bar_line() -> None:
    bars = ((note("C4", Fraction(3)), note("D4", tie=True)), (note("D4", Fraction(2), tie=True), note("E4")))
    heard = sounding(bars, (Fraction(0), Fraction(4)), (Fraction(4), Fraction(4)))
    assert [(one.pitch.text, one.onset, one.duration) for one in heard] == [("C4", 0, 3), ("D4", 3, 3), ("E4", 6, 1)]
    assert count(bars) == 3  # the tie into another pitch joins nothing


def test_the_bars_of_a_solo_follow_the_form() -> None:
    """Repeats as played, a change of metre, a stretch from the middle of one chorus into the next."""
    form = solo_form(study_of_text(WALTZ), Covers(1, 5, 2, 2), INSTRUMENTS["tenor-sax"])
    assert [(bar.chorus, bar.number, bar.label, bar.metre.text) for bar in form.bars] == [
        (1, 5, "B", "3/4"), (1, 6, "", "4/4"), (2, 1, "A", "3/4"), (2, 2, "", "3/4"),
    ]  # fmt: skip
    assert form.starts == (0, 3, 7, 10)
    assert [chord.symbol.text for chord in form.bars[3].chords if chord.symbol] == ["Bm7", "E7"]
    assert (form.key.text, form.shift) == ("A major", Interval.parse("M9"))


# The written transposition of each instrument is published (MusicXML 4.0, `transpose`); here it must come out of the
# whole way from the concert chart.
@pytest.mark.parametrize(("instrument", "semitones"), [("trumpet", 2), ("alto-sax", 9), ("tenor-sax", 14), ("baritone-sax", 21),
                                                       ("trombone", 0), ("guitar", 12), ("bass", 12), ("piano", 0)])
@pytest.mark.parametrize("key", ["B major", "F# major", "Db major", "G# minor"])
def test_notes_are_moved_as_their_instrument_reads(key: str, instrument: str, semitones: int) -> None:
    form = solo_form(study_of_text(f"key: {key}\n| {key.split()[0]} |"), Covers(1, 1, 1, 1), INSTRUMENTS[instrument])
    assert form.shift.semitones == semitones
    concert = study_of_text(f"key: {key}\n| C |").key
    assert (concert.tonic + form.shift).pc == form.key.tonic.pc
    assert abs((concert.tonic + form.shift).fifths - form.key.tonic.fifths) in (0, 12)


@pytest.fixture
def stage(db: None) -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    leader, player = factories.make_instructor(ensemble), factories.make_player(ensemble)
    revision = factories.make_version()
    solo = services.begin(by=player, revision=revision, recording=None, player="Ada", instrument="", covers=Covers(1, 1, 1, 4), bars=4)
    return {"ensemble": ensemble, "leader": leader, "player": player, "solo": solo}


def bars_of(text: str) -> Any:
    return ((note(text, Fraction(4)),), (), (), ())


def test_two_windows_lose_nothing(stage: dict[str, Any]) -> None:
    solo = stage["solo"]
    assert services.save_draft(solo=solo, bars=bars_of("C4"), serial=0, client="one").written
    refused = services.save_draft(solo=solo, bars=bars_of("D4"), serial=0, client="two")
    assert not refused.written
    assert read_notes(refused.draft.notes, 4) == bars_of("C4")
    # an answer that was lost on its way: the same window may send again
    assert services.save_draft(solo=solo, bars=bars_of("E4"), serial=0, client="one").written
    # what stood there is kept when it is written over on purpose
    assert services.save_draft(solo=solo, bars=bars_of("D4"), serial=1, client="two", over=True).written
    kept = selectors.newest(solo)
    assert kept is not None
    assert (read_notes(kept.notes, 4), kept.why, kept.count) == (bars_of("E4"), "of another window", 1)


def test_kept_notes_are_never_rewritten(stage: dict[str, Any]) -> None:
    first = services.keep(solo=stage["solo"], bars=bars_of("C4"), by=stage["player"])
    assert services.keep(solo=stage["solo"], bars=bars_of("C4"), by=stage["player"]).pk == first.pk
    assert services.keep(solo=stage["solo"], bars=bars_of("D4"), by=stage["player"]).number == 2
    first.notes = {}
    with pytest.raises(ImmutableNotes):
        first.save()


def test_those_who_lead_are_told_once(stage: dict[str, Any]) -> None:
    for _ in range(2):
        services.share(solo=stage["solo"], ensemble=stage["ensemble"], url="/x/")
    assert [row.user for row in Notice.objects.filter(kind="solo")] == [stage["leader"]]


def test_the_draft_answers_where_and_what(stage: dict[str, Any], client: Client) -> None:
    client.force_login(stage["player"])
    address = reverse("tunes:solo-draft", args=[stage["solo"].pk])
    sent = {"notes": json.dumps(write_notes(bars_of("C4"))), "serial": 0, "client": "one"}
    assert client.post(address, sent).json()["serial"] == 1
    other = client.post(address, sent | {"client": "two"})
    assert (other.status_code, other.json()["serial"], other.json()["notes"]) == (409, 1, write_notes(bars_of("C4")))
    for bad in ("{", "[" * 100_000, json.dumps({"version": 1, "notes": [{"bar": 9}]}), ""):
        answer = client.post(address, sent | {"notes": bad, "serial": 1})
        assert answer.status_code == 422
        assert answer.json()["problem"]
    assert Solo.objects.get().draft.serial == 1
