"""Solos written out: the notes as stored, what they add up to, drafts of two windows, who is told."""

from __future__ import annotations

import json
import re
from fractions import Fraction
from itertools import pairwise
from types import SimpleNamespace
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from studio.instruments import INSTRUMENTS
from studio.models import Notice
from tests import factories
from tunes.harmony.pitch.spelling import UNISON, Interval, Pitch
from tunes.models import ImmutableNotes, Solo
from tunes.models_recordings import FormMark
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
from tunes.solos.reading import read_solo
from tunes.solos.reading_page import _struck
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
    "a tuplet": (
        {"version": 1, "notes": [{"bar": 1, "at": "0", "length": "1", "tuplet": [9, 8]}]},
        "a tuplet is one of",
    ),
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
@pytest.mark.parametrize(
    ("instrument", "semitones"),
    [
        ("trumpet", 2),
        ("alto-sax", 9),
        ("tenor-sax", 14),
        ("baritone-sax", 21),
        ("trombone", 0),
        ("guitar", 12),
        ("bass", 12),
        ("piano", 0),
    ],
)
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
    solo = services.begin(
        by=player, revision=revision, recording=None, player="Ada", instrument="", covers=Covers(1, 1, 1, 4), bars=4
    )
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


def test_a_window_on_its_way_out_that_sends_twice_does_not_stop_the_next_one(stage: dict[str, Any]) -> None:
    solo = stage["solo"]
    services.save_draft(solo=solo, bars=bars_of("C4"), serial=0, client="old")
    opened = services.save_draft(solo=solo, bars=bars_of("C4"), serial=0, client="old").draft.serial
    services.save_draft(solo=solo, bars=bars_of("C4"), serial=0, client="old")  # late, when the next window stands open
    assert services.save_draft(solo=solo, bars=bars_of("D4"), serial=opened, client="new").written


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


# --- reading


def a_shared_solo(stage: dict[str, Any]) -> Solo:
    """Four bars in eighths over 2 5 1 in B flat, shared."""
    rows = ("C4 Eb4 G4 Bb4 A4 C5 Eb5 Gb5", "F5 D5 Bb4 A4 Ab4 G4 F4 D4", "C4 Eb4 G4 Bb4 A4 B4 C5 E5", "D5 Bb4")
    bars = tuple(tuple(note(name, HALF) for name in row.split()) for row in rows)
    services.keep(solo=stage["solo"], bars=bars, by=stage["player"])
    services.share(solo=stage["solo"], ensemble=stage["ensemble"], url="/x/")
    return stage["solo"]


def test_degrees_are_those_over_the_chord_of_the_moment(stage: dict[str, Any]) -> None:
    """Cm7 F7 | B flat major 7: counted by hand from the chord's root (major scale degrees, flat 9 for G flat over F7)."""
    solo = a_shared_solo(stage)
    concert = selectors.form_of(solo, INSTRUMENTS["piano"])
    bars = selectors.read_stored(selectors.newest(solo).notes, 4)  # type: ignore[union-attr]
    reading = read_solo(bars, concert, selectors.covers(solo), UNISON)
    assert [one.shown for one in reading.of_bar(0)] == ["1", "♭3", "5", "♭7", "3", "5", "♭7", "♭9"]
    assert [one.shown for one in reading.of_bar(1)][:4] == ["5", "3", "1", "7"]
    assert all(one.words and one.source for one in reading.notes)


def test_what_is_asked_leaks_nowhere_until_it_is_answered(stage: dict[str, Any], client: Client) -> None:
    """Not in the page's source, not in a file: neither its degrees nor a role, line or count that needs them."""
    solo = a_shared_solo(stage)
    services.ask(solo=solo, bars={2}, by=stage["leader"])
    reader = factories.make_player(stage["ensemble"])
    client.force_login(reader)
    page = reverse("tunes:solo", args=[solo.pk])

    def told() -> list[dict[str, Any]]:
        text = client.get(page).content.decode()
        data = json.loads(
            re.search(r'<script id="solo-data" type="application/json">(.*?)</script>', text, re.DOTALL)[1]
        )  # type: ignore[index]
        return [row for row in data["reading"]["notes"] if row["bar"] == 2]

    hidden = told()
    assert hidden
    assert all(set(row) == {"bar", "place", "hidden"} for row in hidden)
    assert "not told yet" not in client.get(page).content.decode()  # the words are the drawing's, not the data's
    answer = reverse("tunes:solo-answer", args=[solo.asks.get().pk])
    client.post(answer, {"role": "nonsense"})
    assert all("degree" not in row for row in told())
    client.post(answer, {"role": "passing"})
    assert all(row["degree"] for row in told())
    client.force_login(stage["leader"])
    assert all(row["degree"] for row in told())


def test_held_back_analysis_is_not_read(stage: dict[str, Any], client: Client) -> None:
    """While a quiz on the tune is still to be handed in, its solos show notes and chords, and no degree."""
    solo = a_shared_solo(stage)
    factories.make_assignment(stage["ensemble"], by=stage["leader"], kinds=("function",), revision=solo.revision)
    client.force_login(stage["player"])
    text = client.get(reverse("tunes:solo", args=[solo.pk])).content.decode()
    assert '"degree"' not in text
    assert '"landing": []' in text


def test_a_person_says_otherwise_beside_what_was_read(stage: dict[str, Any], client: Client) -> None:
    solo = a_shared_solo(stage)
    client.force_login(stage["leader"])
    say = reverse("tunes:solo-say", args=[solo.pk])
    client.post(say, {"kind": "role", "first": "7/2", "last": "7/2", "role": "anticipation", "text": "<b>hear</b> it"})
    client.post(say, {"kind": "name", "first": "0", "last": "7/2", "text": "The long way up"})
    client.post(say, {"kind": "role", "first": "x", "last": "0", "role": "passing"})
    assert [(row.kind, row.first, row.role) for row in solo.words.all()] == [
        ("role", "7/2", "anticipation"),
        ("name", "0", ""),
    ]
    text = client.get(reverse("tunes:solo", args=[solo.pk])).content.decode()
    assert "<b>hear</b>" not in text
    assert re.search(r"The long way up</p><p[^>]*>bars? 1[^<]*, named by ", text), (
        "a passage keeps its name though it comes once"
    )
    client.force_login(stage["player"])
    services.ask(solo=solo, bars={0}, by=stage["leader"])
    mate = factories.make_player(stage["ensemble"], "Mo")
    client.force_login(mate)
    asked = client.get(reverse("tunes:solo", args=[solo.pk])).content.decode()
    assert "The long way up" not in asked, "a name may tell what is asked"
    client.force_login(stage["leader"])
    client.post(say, {"kind": "role", "first": "7/2", "last": "7/2", "role": ""})
    assert solo.words.count() == 1


def test_a_new_solo_guesses_the_chorus_after_the_head_and_nobodys_name(stage: dict[str, Any]) -> None:
    """Before, the band's name stood for the player, and the staves began at the head; a step's staves opened whole."""
    player, tune = stage["player"], stage["solo"].revision.version.tune
    recording = factories.make_recording(tune, "Quayside Nonet", is_reference=True)
    services.begin(
        by=stage["leader"],
        revision=stage["solo"].revision,
        recording=None,
        player="Unseen",
        instrument="",
        covers=Covers(1, 1, 1, 4),
        bars=4,
    )
    client, address = Client(), reverse("tunes:solo-new", args=[tune.pk])
    client.force_login(player)
    for chorus, guess in ((1, 1), (3, 2)):
        FormMark.objects.create(recording=recording, chorus=chorus, bar=1, seconds=10 * chorus)
        form = client.get(address).context["form"]
        assert [form[name].value() for name in ("player", "first_chorus", "last_chorus")] == [None, guess, guess]
    page = client.get(address)
    assert page.context["players"] == ["Ada", "Quayside Nonet"]
    sent = {
        "player": "Ada",
        "revision": stage["solo"].revision_id,
        "first_chorus": 1,
        "first_bar": 1,
        "last_chorus": 1,
        "last_bar": 4,
    }
    begun = client.post(f"{address}?bars=2-3", sent)
    assert begun.url.endswith("?bars=2-3")
    assert client.get(begun.url).context["data"]["only"] == [1, 2]


def test_a_note_held_over_a_tie_is_one_note() -> None:
    """Logical identity: a tie joins two heads into one sound."""
    bar = SimpleNamespace
    written = (
        (Entry(Fraction(2), Pitch.parse("D5")), Entry(Fraction(2), Pitch.parse("E5"), tie=True)),
        (Entry(Fraction(1), Pitch.parse("E5")), Entry(Fraction(3))),
    )
    assert [_struck(written, [bar(index=at) for at in places]) for places in ((0, 1), (1,))] == [2, 0]
