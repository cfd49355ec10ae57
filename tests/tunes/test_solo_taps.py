"""Onsets tapped or heard, laid on the bars of a solo as guesses."""

from __future__ import annotations

import json
from fractions import Fraction
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from tests import factories
from tunes.models import FormMark
from tunes.solos import services
from tunes.solos.bars import Covers
from tunes.solos.notes import read_notes

CHART = "key: F major\nmetre: 4/4\n| F7 | Bb7 | F7 | F7 |\n"


@pytest.fixture
def solo(db: None) -> Any:
    """Bars 2 to 4 of chorus 2; 120 beats a minute, the first chorus from second 1, a tap at each chorus."""
    player = factories.make_player(factories.make_ensemble(), "Pia")
    tune = factories.make_tune("Low Bridge")
    recording = factories.make_recording(tune)
    for chorus, second in ((1, 1.0), (2, 9.0), (3, 17.0)):
        FormMark.objects.create(recording=recording, chorus=chorus, bar=1, seconds=second, by=player)
    return services.begin(
        by=player, revision=factories.make_version(tune, CHART), recording=recording, player="Odile", instrument="",
        covers=Covers(2, 2, 2, 4), bars=3,
    )  # fmt: skip


def ask(client: Client, solo: Any, onsets: Any, **more: str) -> Any:
    client.force_login(solo.written_by)
    return client.post(reverse("tunes:solo-placed", args=[solo.pk]), {"onsets": json.dumps(onsets), **more})


def test_onsets_stand_on_their_beats_as_guesses(solo: Any, client: Client) -> None:
    """Bar 2 of chorus 2 begins at second 11. Its beat 1, the swung and of 1 (two thirds of half a second), beat 2, then bar 3
    beat 3; one note lies in bar 1, which the solo does not cover."""
    onsets = [
        {"at": 9.0},
        {"at": 11.0, "midi": 70},
        {"at": 11.335, "midi": 68},
        {"at": 11.51, "midi": 65},
        {"at": 14.02, "end": 15.9},
    ]
    answer = ask(client, solo, list(reversed(onsets)))
    assert answer.status_code == 200
    found = answer.json()
    bars = read_notes(found["notes"], 3)
    assert found["filled"] == [0, 1, 2], "a note that goes on over the bar line fills the next one too"
    notes = [
        (number, entry.pitch.text, entry.length, entry.guess)
        for number, bar in enumerate(bars)
        for entry in bar
        if entry.pitch
    ]
    half = Fraction(1, 2)
    assert notes[:3] == [(0, "Bb4", half, True), (0, "Ab4", half, True), (0, "F4", Fraction(1), True)]
    assert notes[3][0] == 1
    assert bars[1][0].pitch is None
    assert bars[1][0].length == 2
    assert notes[3][3]
    assert sum(entry.guess for bar in bars for entry in bar) == 4, "heads that a tie leads to are no guess of their own"
    assert any("1 notes lie outside" in words for words in found["remarks"])
    assert not solo.revisions.exists()
    assert not solo.draft.notes["notes"], "a suggestion writes nothing"


REFUSED = [
    [], {}, "x", [1], [{}], [{"at": "1"}], [{"at": -1}], [{"at": 1e308 * 10}], [{"at": True}], [{"at": 11, "midi": 300}],
    [{"at": 11, "midi": "C"}], [{"at": 11, "end": "x"}], [{"at": 500.0}], [{"at": 11.0}] * 2001,
]  # fmt: skip


def test_what_cannot_be_placed_is_said(solo: Any, client: Client) -> None:
    for sent in REFUSED:
        answer = ask(client, solo, sent)
        assert answer.status_code == 422, sent
        assert answer.json()["problem"]
    assert client.post(reverse("tunes:solo-placed", args=[solo.pk]), {"onsets": "["}).status_code == 422
    FormMark.objects.exclude(chorus=1).delete()
    assert "form map" in ask(client, solo, [{"at": 11.0}]).json()["problem"]


def test_what_a_solo_says_of_itself_is_changed_and_no_note_lost(solo: Any, client: Client) -> None:
    """Its bars may move until it is kept, may always end later, and never leave a note outside."""
    client.force_login(solo.written_by)
    address = reverse("tunes:solo-head", args=[solo.pk])
    sent = {"player": "Odile M.", "instrument": "trumpet", "recording": solo.recording_id, "first_chorus": 2, "first_bar": 2,
            "last_chorus": 2, "last_bar": 4}  # fmt: skip
    notes = read_notes({"version": 1, "notes": [{"bar": 1, "at": "0", "length": "4", "pitch": "F4"}]}, 3)
    services.save_draft(solo=solo, bars=notes, serial=0, client="w")

    def change(**more: Any) -> tuple[int, list[int]]:
        status = client.post(address, sent | more).status_code
        solo.draft.refresh_from_db()
        return status, [row["bar"] for row in solo.draft.notes["notes"]]

    assert client.get(address).status_code == 200
    assert change(first_bar=1) == (302, [2]), "a bar earlier: the note stays where it sounds"
    assert change(first_bar=3) == (422, [2]), "it would fall out"
    assert change(first_bar=2) == (302, [1])
    services.keep(solo=solo, bars=notes, by=solo.written_by)
    assert change(first_bar=1)[0] == 422, "lines count from its first bar"
    assert change(last_chorus=3) == (302, [1])
    assert change(last_bar=1) == (422, [1]), "it ends before it begins"
    assert change(player="") == (422, [1])
    solo.refresh_from_db()
    assert (solo.player, solo.last_chorus, solo.last_bar) == ("Odile M.", 3, 4)
