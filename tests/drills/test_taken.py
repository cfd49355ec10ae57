"""What is taken from a solo into practice: drills carry it at its place, the plan knows it, one press takes it back.

The sharp eleven over a dominant that goes to minor lies in the scale that has it (Lydian dominant over a dominant: common
practice; so Levine, *The Jazz Theory Book*, 1995, chapter 3, from memory).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from drills.lines.build import Recipe
from drills.planning import FIRST_TEMPO
from drills.selectors import material
from drills.services.practice import plan_for, record
from drills.sheets import line_shown
from drills.views.drill import with_taken
from drills.wishes import Wish
from tests import factories
from tunes.models import SoloTaken
from tunes.solos import services
from tunes.solos.bars import Covers
from tunes.solos.notes import read_notes
from tunes.solos.taken import by_event

CHART = "key: F major\nmetre: 4/4\n| Gm7 | C7 | Fmaj7 | Am7 D7 |\n"
# bar 2: the sharp 11th of C7 and chord tones; bar 4: the flat 9th of D7 on its first beat
NOTES = {"version": 1, "notes": [
    {"bar": 2, "at": "0", "length": "1", "pitch": "F#4"}, {"bar": 2, "at": "1", "length": "1", "pitch": "G4"},
    {"bar": 2, "at": "2", "length": "2", "pitch": "E4"},
    {"bar": 4, "at": "0", "length": "2", "pitch": "A4"}, {"bar": 4, "at": "2", "length": "2", "pitch": "Eb5"},
]}  # fmt: skip


@pytest.fixture
def room(db: None) -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    player = factories.make_player(ensemble, "Pia", instrument="alto-sax")
    revision = factories.make_version(factories.make_tune("Low Bridge"), CHART)
    covers = Covers(2, 1, 2, 4)
    solo = services.begin(
        by=player, revision=revision, recording=None, player="Odile", instrument="", covers=covers, bars=4
    )
    services.keep(solo=solo, bars=read_notes(NOTES, 4), by=player)
    return {"player": player, "solo": solo, "revision": revision, "take": reverse("tunes:solo-take", args=[solo.pk])}


RECIPES = [
    Recipe("scales", "root"), Recipe("scales", "root", direction="down"), Recipe("scales", "nearest"),
    Recipe("arpeggios", "root"), Recipe("arpeggios", "third", direction="down"), Recipe("arpeggios", "nearest"),
    Recipe("arpeggios", "root", value="crotchets"), Recipe("scales", "nearest", value="crotchets"),
]  # fmt: skip


def test_taken_carried_planned_and_taken_back(room: dict[str, Any], client: Client) -> None:
    """In every recipe, as an alto reads it (a major 6th up) and in all twelve keys."""
    client.force_login(room["player"])
    assert client.post(room["take"], {"first": "0", "last": "4"}).status_code == 302
    row = SoloTaken.objects.get()
    assert [(one["bar"], one["degree"], one["chorus"]) for one in row.notes] == [(2, "#11", 2), (4, "b9", 2)]

    found = with_taken(material(room["revision"].pk), room["player"], True)  # type: ignore[arg-type]
    assert {event: [one.degree for one in told] for event, told in by_event(found.taken, found.study).items()} == {
        1: ["#11"],
        4: ["b9"],
    }
    for recipe in RECIPES:
        for at in (0, 5):
            wish = Wish(recipe=recipe, instrument="alto-sax", order="fourths", at=at)
            plain, _ = line_shown(found.study, wish)
            line, _ = line_shown(found.study, wish, carried=found.carried)
            for event, semitones in ((1, 6), (4, 1)):
                root = next(chord.symbol.root.pc for chord in line.chords if chord.event == event and chord.symbol)
                played = {(note.pitch.midi - root) % 12 for note in line.notes if note.event == event and note.pitch}
                assert semitones in played, (recipe, at, event)
            assert sum(n.duration for n in line.notes) == Fraction(16)
            said = " ".join(remark.text for remark in line.remarks)
            assert "♯11 here (Odile, chorus 2)" in said
            assert "♭9 here" in said
            assert "here (Odile" not in " ".join(remark.text for remark in plain.remarks)

    planned = plan_for(room["player"], size=5)
    assert [(one.title, one.tempo) for one in planned] == [("Scales, bars 1 to 5", FIRST_TEMPO)]
    assert "Taken from Odile" in planned[0].why
    query = {name: str(value) for name, value in planned[0].wish.items()}
    page = client.get(reverse("drills:drill", args=[room["revision"].pk]), query).content.decode()
    assert "the recording plays the ♯11 here" in page.lower()
    record(
        user=room["player"], revision=room["revision"], wish=Wish.from_query(query), tempo=80, went="steady", token="x"
    )
    assert "Taken from" not in " ".join(one.why for one in plan_for(room["player"], size=5)), (
        "it has a spacing of its own"
    )

    assert "In practice since" in client.get(reverse("tunes:solo", args=[room["solo"].pk])).content.decode()
    client.post(room["take"], {"back": str(row.pk)})
    assert not SoloTaken.objects.exists()
    page = client.get(reverse("drills:drill", args=[room["revision"].pk]), query).content.decode()
    assert "the recording plays" not in page.lower()


@pytest.mark.parametrize(
    "sent", [{}, {"first": "x", "last": "1"}, {"first": "3", "last": "1"}, {"first": "0", "last": "99"},
             {"first": "2", "last": "2"}, {"what": "over nothing 3"}])  # fmt: skip
def test_what_cannot_be_taken_is_said(room: dict[str, Any], client: Client, sent: dict[str, str]) -> None:
    client.force_login(room["player"])
    page = client.post(room["take"], sent, follow=True).content.decode()
    assert not SoloTaken.objects.exists()
    assert "notice--error" in page or "message" in page


def test_nothing_of_an_asked_bar_is_taken(room: dict[str, Any], client: Client) -> None:
    services.ask(solo=room["solo"], bars={1}, by=room["player"])
    client.force_login(room["player"])
    client.post(room["take"], {"first": "0", "last": "1"})
    assert not SoloTaken.objects.exists()
