"""A line practised in twelve keys: spacing of its own, evidence, what an instructor heard, who sees it; lines searched; packs."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.selectors.ledger import own_work
from drills import line_keys, line_search
from drills.band.styles import STYLES
from drills.kept_lines import line_of, lines_seen, twelve
from drills.line_sound import over_band
from drills.models import KeptLine, LineKey, LinePractice, Pack
from drills.services import line_keys as write
from drills.services.lines import keep_line
from drills.services.packs import build_part, part_digest
from drills.services.practice import plan_for
from studio.instruments import INSTRUMENTS
from studio.models import Notice
from tests import factories
from tests.drills.test_kept_lines import room  # noqa: F401

ALTO = INSTRUMENTS["alto-sax"]


@pytest.fixture
def kept(room: dict[str, Any]) -> dict[str, Any]:  # noqa: F811
    row = keep_line(solo=room["solo"], first=0, last=6, by=room["player"], name="Homeward")
    teacher = factories.make_instructor(room["ensemble"], "Teodor")
    return room | {
        "row": row,
        "teacher": teacher,
        "mate": factories.make_player(room["ensemble"], "Mo", instrument="trumpet"),
    }


def test_keys_are_practised_one_by_one(kept: dict[str, Any], client: Client) -> None:
    """An alto reads a major 6th above what sounds: its C sounds E flat (pitch class 3)."""
    row, player = kept["row"], kept["player"]
    line = line_of(row)
    keys = twelve(line, ALTO)
    assert {line_keys.tonic_of(key, ALTO) for key, _ in keys} == set(range(12))
    assert keys[0][0].text == "C major"
    assert line_keys.tonic_of(keys[0][0], ALTO) == 3
    client.force_login(player)
    address = reverse("drills:line-practised", args=[row.pk])
    sent = {"tempo": 92, "went": "steady", "token": str(uuid.uuid4())}
    for _ in range(2):  # a double click
        client.post(f"{address}?tonic=3", sent)
    client.post(f"{address}?tonic=10", sent | {"went": "with slips", "token": str(uuid.uuid4()), "tempo": 70})
    for wrong in ({"tonic": "12"}, {"tonic": "x", "tempo": 9}):
        client.post(f"{address}?tonic={wrong.pop('tonic')}", sent | wrong | ({} if wrong else {"token": "no"}))
    assert LinePractice.objects.count() == 2
    shown = line_keys.keys_shown(line, keys, LineKey.objects.filter(user=player), ALTO, None, timezone.now())
    assert [(one.name, one.state, one.tempo) for one in shown if one.state != "to do"] == [
        ("Cmaj7", "done", 92),
        ("Gmaj7", "begun", 70),
    ]
    assert next(one for one in shown if one.current).state == "to do", "nothing is due today: the next new key"
    later = timezone.now() + dt.timedelta(days=60)
    due = line_keys.keys_shown(line, keys, LineKey.objects.filter(user=player), ALTO, None, later)
    assert next(one for one in due if one.current).state == "begun", "slips come back first"

    told = [one for one in plan_for(player, size=9, now=later) if one.url]
    assert [one.title for one in told] == ["Homeward, in G major", "Homeward, in C major"]
    assert client.get(told[0].url).status_code == 200
    work = own_work(player, [kept["source"].version.tune])[kept["source"].version.tune_id]
    assert any("Homeward: 1 of 12 keys, up to 92 beats a minute, last on" in words for words in work)


def test_an_instructor_hears_it_and_others_see_what_is_let_be_seen(kept: dict[str, Any], client: Client) -> None:
    row, player, mate = kept["row"], kept["player"], kept["mate"]
    line = line_of(row)
    client.force_login(kept["teacher"])
    heard = reverse("drills:line-heard", args=[row.pk])
    client.post(heard, {"player": player.pk, "tonic": "3", "tempo": "120"})
    for wrong in ({"player": 0}, {"tonic": "12"}, {"tempo": "9"}, {"tonic": "²"}):
        client.post(heard, {"player": player.pk, "tonic": "3", "tempo": "120"} | wrong)
    item = LineKey.objects.get()
    assert (item.state, item.heard_by, item.heard_tempo) == ("heard", kept["teacher"], 120)
    assert Notice.objects.get(user=player, kind="line").text == "Teodor has heard the line Homeward in C major at 120."
    assert [one.user for one in line_keys.played_by(line_keys.keys_of(row), row, line, kept["teacher"])] == [player]
    assert line_keys.played_by(line_keys.keys_of(row), row, line, mate) == []
    client.force_login(player)
    client.post(reverse("drills:line-practised", args=[row.pk]), {"show": "1"})
    assert [(one.user, one.keys) for one in line_keys.played_by(line_keys.keys_of(row), row, line, mate)] == [
        (player, (("Cmaj7", "heard", 120),))
    ]
    client.force_login(mate)
    write.record(user=mate, line=row, tonic=0, tempo=60, went="fell apart", token="t")
    client.force_login(player)
    client.post(reverse("drills:line-name", args=[row.pk]), {"remove": "1"})
    assert KeptLine.objects.filter(pk=row.pk).exists(), "others practise it: their evidence stays"


def test_variants_are_made_on_request_and_say_so(kept: dict[str, Any], client: Client) -> None:
    client.force_login(kept["player"])
    line = line_of(kept["row"])
    found, rows = line_keys.variants_of(line, "inverted")
    assert "turned round" in found.changed
    assert {one.name for one in rows} == set(line_keys.VARIANTS)
    assert all(one.why_not for one in rows if one.name == "earlier"), "its first note would leave the chord"
    page = client.get(reverse("drills:line", args=[kept["row"].pk]), {"as": "inverted"}).content.decode()
    assert "turned round" in page
    assert "Practised it in this key" not in page, "what is practised is the line"


def test_it_sounds_over_the_band(kept: dict[str, Any]) -> None:
    """Concert pitch under every instrument: the bass begins the C7 of F on a tone of C7."""
    for key, carried in twelve(line_of(kept["row"]), ALTO)[:2]:
        assert carried.line
        sound = over_band(carried.line, 100)
        chord = next(c for c in carried.line.chords if c.symbol)
        assert chord.symbol
        first = next(pitch for at, _, pitch in sound["bass"] if at >= chord.start)
        assert first % 12 in {(tone.pc - 9) % 12 for tone in chord.symbol.tones}, key
        assert sound["piano"]
        assert sound["drums"]


@pytest.mark.parametrize(("feel", "style"), [("medium swing", "four"), ("bossa nova", "bossa"), ("", "four")])
def test_a_drill_sounds_over_the_band_in_the_style_of_its_tune(feel: str, style: str, client: Client, db: None) -> None:
    """The passage that is asked, from its own first bar; the strokes are those of the style."""
    revision = factories.make_chart_revision("Alder")
    revision.version.tune.feel = feel
    revision.version.tune.save()
    client.force_login(factories.make_player(factories.make_ensemble()))
    page = client.get(
        reverse("drills:drill", args=[revision.pk]), {"kind": "guide-tones", "first_bar": 2, "last_bar": 3}
    )
    sound = page.context["sheet"].sound
    begin, end = sound["bars"][0][1], sound["bars"][-1][1] + sound["bars"][-1][2]
    for part in ("bass", "piano", "drums"):
        assert sound[part], part
        assert all(begin - 1 <= row[0] < end for row in sound[part]), part
    struck = {(row[0] - begin) % 4 for row in sound["drums"] if row[1] != "crash"}
    assert struck <= {float(stroke.at) for one in (STYLES[style].drums, STYLES[style].fill) for stroke in one}


SEARCHES = [
    ("words", {"q": "homeward"}, True), ("other words", {"q": "backward"}, False),
    ("degrees in a row", {"degrees": "b7 b9 1"}, True), ("signs as printed", {"degrees": "♭7 ♭9"}, True),
    ("not in a row", {"degrees": "3 b7"}, False), ("contour", {"contour": "up up up down"}, True),
    ("another contour", {"contour": "down up"}, False), ("played a 3rd lower", {"played": "60 63 66 69 68"}, True),
    ("one note changed", {"played": "60 63 66 70 68"}, True), ("another line", {"played": "60 62 64 65 67"}, False),
    ("its functions", {"functions": "5dom 1maj"}, True), ("other functions", {"functions": "2min 5dom"}, False),
]  # fmt: skip


def test_it_is_found_by_what_it_is(kept: dict[str, Any], client: Client) -> None:
    """E G B flat D flat C …: minor thirds up, a half step down."""
    for name, query, there in SEARCHES:
        rows, near = line_search.found(lines_seen(kept["player"]), line_search.read(query))
        assert bool(rows) is there, name
        assert near.get(kept["row"].pk, "") == {
            "played a 3rd lower": "as played",
            "one note changed": "one note changed",
        }.get(name, "")
    KeptLine.objects.update(heights="")  # one from before
    assert line_search.found(lines_seen(kept["player"]), line_search.read({"contour": "up up up"}))[0]
    client.force_login(kept["player"])
    for query in ({"degrees": "x"}, {"contour": "sideways"}, {"played": "C E G"}, {"played": "9" * 300}):
        page = client.get(reverse("drills:lines"), query)
        assert "notice--error" in page.content.decode()


def test_a_pack_holds_it_for_every_instrument(kept: dict[str, Any], client: Client) -> None:
    client.force_login(kept["teacher"])
    client.post(reverse("drills:line-pack", args=[kept["row"].pk]))
    pack = Pack.objects.get()
    assert set(pack.parts.values_list("instrument", flat=True)) == {"alto-sax", "trumpet"}
    from drills.selectors import material

    found = material(pack.revision_id)
    assert found
    made = build_part([], "trumpet", found, with_chart=False, line=pack.line)
    assert made.startswith(b"%PDF")
    plain = Pack(ensemble=pack.ensemble, revision=pack.revision)
    assert part_digest(pack, "trumpet", found) != part_digest(plain, "trumpet", found)
