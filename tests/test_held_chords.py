"""While a player takes the changes of a tune down by ear, no address of the site tells them a chord of it.

The rule is our own (common practice in class, no source). Every row of the access table is opened twice by a player:
with nothing to take down, which finds the addresses that show chords at all (`SHOWS_CHORDS`: a new one is added there
by hand, so that somebody has thought of it), and with the changes of every tune still to hand in.
"""
from __future__ import annotations

import re

import pytest
from django.http import HttpResponse
from django.urls import reverse

from tests import factories
from tests.access import World
from tests.test_access import ROWS, ask, whole_world
from tunes.harmony.pitch.spelling import Interval
from tunes.models import ChartRevision, Recording, Tune
from tunes.study import chart_of

# Addresses that show a player a chord of a chart, by any method of the access table, and what they answer instead
# while it is closed: 403 with the reason, or (200) the page without the chart.
SHOWS_CHORDS = {
    "api:analysis": 403, "api:checks": 403, "api:hand-in": 403, "api:musicxml": 403, "api:places": 200, "api:plain-text": 403,
    "api:revision": 403, "drills:download": 403, "drills:drill": 403, "drills:pack_part": 403,
    "tunes:area": 403, "tunes:by-ear-compare": 403, "tunes:check": 403, "tunes:compare": 403, "tunes:event": 403,
    "tunes:export-musicxml": 403, "tunes:export-text": 403, "tunes:idiom": 200, "tunes:jam-card": 403,
    "tunes:memory-sheet": 403, "tunes:revision": 200, "tunes:tune": 200, "tunes:variants-quiz": 403, "tunes:version": 200,
    "work:attempt": 403,
}
# Addresses that lead to chords without naming one in the access table's world: closed as well.
ALSO_CLOSED = {"tunes:top-of-form": 403, "tunes:check-bar": 403}
# Addresses that say chords of no chart: the marking table's examples, and what was typed, said back.
OF_NO_CHART = {"api:echo", "api:marking-rules", "tunes:by-ear-save", "work:echo", "work:marking-rules", "work:save"}
# Not of the chart: tokens, and the examples of what may be typed.
SHOWN_ANYWAY = re.compile(r'<samp>[^<]*</samp>|csrfmiddlewaretoken" value="[^"]+"|X-CSRFToken[^}]+|nonce="[^"]+"')
SEALED = ("application/pdf", "audio/midi", "application/vnd.recordare.musicxml+xml")  # what takes a chart away


@pytest.fixture
def world(db: None) -> World:
    """The world of the access table."""
    return whole_world()


def assign_by_ear(world: World) -> None:
    """Every tune of the world, by ear, to the player's ensemble."""
    for tune in Tune.objects.filter(versions__revisions__isnull=False).distinct():
        if not Recording.objects.filter(tune=tune, is_reference=True).exists():
            factories.make_recording(tune, is_reference=True)
        revision = ChartRevision.objects.filter(version__tune=tune).order_by("-number")[0]
        factories.make_assignment(world.ensemble, by=world.people["instructor"], kinds=("changes",), revision=revision)


def words() -> set[str]:
    """Every chord of every chart as text, as drawn and as spoken, in concert pitch and as a tenor saxophone reads it."""
    found: set[str] = set()
    for text in ChartRevision.objects.values_list("text", flat=True).distinct():
        for event in chart_of(text).events():
            if event.symbol is not None:
                for symbol in (event.symbol, event.symbol.transposed(Interval.parse("M2"))):
                    found |= {symbol.text, symbol.display, symbol.spoken}
    return {word for word in found if len(word) > 2}


def told(response: HttpResponse, chords: set[str]) -> set[str]:
    """The chords that an answer tells; a file that holds a whole chart tells everything."""
    if response.status_code >= 300:
        return set()
    kind = response.headers.get("Content-Type", "").split(";")[0]
    if kind in SEALED:
        return {kind}
    if response.streaming or not kind.startswith(("text/", "application/json")):
        return set()
    text = SHOWN_ANYWAY.sub("", response.content.decode())
    return {word for word in chords if word in text} | set(re.findall(r'class="chord[ "]', text))


def telling(world: World, chords: set[str]) -> dict[str, list[str]]:
    """The rows that tell the player a chord, each with a few of them."""
    found: dict[str, list[str]] = {}
    for row in ROWS:
        for method in row.methods():
            if row.route in OF_NO_CHART:
                continue
            world.clients["player"].force_login(world.people["player"])  # some rows sign out
            told_here = told(ask(world, row, "player", method, reverse(row.route, kwargs=row.kwargs(world))), chords)
            if told_here:
                found.setdefault(row.route, sorted(told_here)[:4])
    return found


def test_every_address_that_shows_a_player_chords_is_known_and_closes(world: World) -> None:
    chords = words()
    assert len(chords) > 20
    shown = set(telling(world, chords))
    assert (sorted(shown - set(SHOWS_CHORDS)), sorted(set(SHOWS_CHORDS) - shown)) == ([], [])
    assign_by_ear(world)
    assert telling(world, chords) == {}


@pytest.mark.parametrize(("route", "status"), (SHOWS_CHORDS | ALSO_CLOSED).items())
def test_what_a_closed_address_answers(world: World, route: str, status: int) -> None:
    """To the player who has the changes to hand in; the instructor and players of other ensembles see it as before."""
    row = next(row for row in ROWS if row.route == route)
    method = next(iter(row.methods()))
    address = reverse(route, kwargs=row.kwargs(world))
    before = {role: ask(world, row, role, method, address).status_code for role in ("stranger", "instructor")}
    assign_by_ear(world)
    assert ask(world, row, "player", method, address).status_code == status
    assert {role: ask(world, row, role, method, address).status_code for role in before} == before


def test_a_closed_page_says_why_and_leads_to_the_work(world: World) -> None:
    assign_by_ear(world)
    player = world.clients["player"]
    for route, kwargs in (("tunes:tune", {"pk": world["tune"].pk}), ("drills:drill", {"revision": world["revision"].pk})):
        text = player.get(reverse(route, kwargs=kwargs)).content.decode()
        assert "its charts open when you hand in “Changes by ear”" in text
        assert "Go to the changes by ear" in text
