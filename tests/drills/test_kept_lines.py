"""Lines cut from solos, kept, named and carried through the repertoire."""

from __future__ import annotations

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from drills.kept_lines import SHELF, line_of, lines_seen, search
from drills.models import KeptLine
from drills.services.lines import keep_line
from drills.vocabulary import NothingToCut
from tests import factories
from tunes.models import Solo, SoloAsk, SoloRevision

SOURCE = "key: F major\nmetre: 4/4\n| Gm7 | C7 | Fmaj7 | % |\n"
OTHER = "key: Bb major\nmetre: 4/4\n| Cm7 | F7 | Bbmaj7 | Bbmaj7 |\n| Gm7 C7 | Fmaj7 | Cm7 F7 | Bb6 |\n"
# Over C7, to the 3rd of F: 3 5 b7 b9 and down (common practice, no source).
NOTES = ["E4", "G4", "Bb4", "Db5", "C5", "Bb4", "A4"]


@pytest.fixture
def room(db: None) -> dict[str, Any]:
    ensemble = factories.make_ensemble()
    player = factories.make_player(ensemble, "Pia", instrument="alto-sax")
    source = factories.make_version(factories.make_tune("Low Bridge"), SOURCE)
    other = factories.make_version(factories.make_tune("High Street"), OTHER)
    solo = Solo.objects.create(
        revision=source,
        player="Odile Marchetti",
        instrument="alto-sax",
        last_bar=4,
        written_by=player,
        shared_with=ensemble,
    )
    rows = [
        {"bar": 2, "at": at, "length": "1/2", "pitch": name}
        for at, name in zip(("0", "1/2", "1", "3/2", "2", "5/2"), NOTES, strict=False)
    ]
    rows += [{"bar": 2, "at": "3", "length": "1"}, {"bar": 3, "at": "0", "length": "2", "pitch": "A4"}]
    kept = SoloRevision.objects.create(solo=solo, number=1, notes={"version": 1, "notes": rows}, count=7, by=player)
    return {"ensemble": ensemble, "player": player, "solo": solo, "kept": kept, "source": source, "other": other}


def test_a_line_keeps_its_functions_and_degrees(room: dict[str, Any]) -> None:
    row = keep_line(solo=room["solo"], first=0, last=6, by=room["player"], name=" the turn home ")
    assert row.name == "the turn home"
    assert row.functions.startswith("5 to 1, from beat 1")
    assert row.degrees.split() == ["3", "5", "♭7", "♭9", "1", "♭7", "3"]
    assert keep_line(solo=room["solo"], first=0, last=6, by=room["player"]).pk == row.pk, "cut twice, it is the same"
    assert list(search(lines_seen(room["player"]), "turn ♭9")) == [row]
    assert not search(lines_seen(room["player"]), "♭13").exists()


@pytest.mark.parametrize(("first", "last"), [(0, 99), (5, 2), (-1, 3)])
def test_what_cannot_be_cut_is_said(room: dict[str, Any], first: int, last: int) -> None:
    with pytest.raises(NothingToCut):
        keep_line(solo=room["solo"], first=first, last=last, by=room["player"])


def test_it_stands_wherever_the_functions_have_room(room: dict[str, Any]) -> None:
    row = keep_line(solo=room["solo"], first=0, last=6, by=room["player"])
    found = SHELF.find(line_of(row), set())
    charts = {pk for pk, place in found if place.fits}
    assert room["source"].pk in charts
    assert room["other"].pk in charts
    assert found.fitting < len(found), "two chords in a bar leave no room for it, and that is said"
    assert {pk for pk, _ in SHELF.find(line_of(row), {room["other"].version.tune_id})} == {room["source"].pk}
    assert all(place.why_not for _, place in found[found.fitting :])


def test_the_pages_show_and_name_it(room: dict[str, Any], client: Client) -> None:
    client.force_login(room["player"])
    answer = client.post(reverse("drills:line-cut", args=[room["solo"].pk]), {"first": "0", "last": "6"})
    row = KeptLine.objects.get()
    assert answer.headers["Location"] == reverse("drills:line", args=[row.pk])
    page = client.get(reverse("drills:line", args=[row.pk])).content.decode()
    assert "<svg" in page
    assert "High Street" in page
    drawn = re.findall(r'<svg class="strip" role="img" aria-label="([^"]+)"', page)
    assert drawn == ["4 bars; it fits in bar 2", "8 bars; it fits in bar 2; it does not fit in bars 5 and 7"]
    assert re.search(r'strip__block" x="12.5%" width="37.5%"', page), (
        "from the second bar of eight to the end of the fourth"
    )
    through = client.get(reverse("drills:line-through", args=[row.pk, room["other"].pk])).content.decode()
    assert "Bars 5 and 7: The line does not fit here, because" in through, "one reason is said once, with its bars"
    where = re.search(rf"/drills/lines/{row.pk}/places/\d+/\d+/", page)
    assert where
    place = client.get(where[0], headers={"HX-Request": "true"}).content.decode()
    assert "<svg" in place
    assert "<html" not in place
    client.post(reverse("drills:line-name", args=[row.pk]), {"name": "Homeward"})
    assert "Homeward" in client.get(reverse("drills:lines")).content.decode()


def test_a_bar_that_is_asked_first_gives_no_line_away(room: dict[str, Any], client: Client) -> None:
    row = keep_line(solo=room["solo"], first=0, last=6, by=room["player"])
    SoloAsk.objects.create(solo=room["solo"], bar=1)
    mate = factories.make_player(room["ensemble"], "Mo")
    assert not lines_seen(mate).exists()
    client.force_login(mate)
    assert client.get(reverse("drills:line", args=[row.pk])).status_code == 404
    told = client.post(reverse("drills:line-cut", args=[room["solo"].pk]), {"first": "0", "last": "3"}, follow=True)
    assert "Say first what you hear" in told.content.decode()
    assert KeptLine.objects.count() == 1
