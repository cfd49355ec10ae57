"""While a player takes the changes of a tune down by ear, no address of the site tells them a chord of it.

The rule is our own (common practice in class, no source). Every row of the access table is opened twice by a player:
with nothing to take down, which finds the addresses that show chords at all (`SHOWS_CHORDS`: a new one is added there
by hand, so that somebody has thought of it), and with the changes of every tune still to hand in. The same with a
quiz on functions open on every tune: no page and no file names a function or a key area of its chart. What goes out by
itself (notices, letters) is read as well, and the walk is walked again by a person who leads another ensemble.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pypdfium2
import pytest
from django.core import mail
from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from api.scopes import SCOPE_IDS
from api.tokens import make_token
from studio.models import Membership, Notice
from studio.notices import send_digests
from tests import factories
from tests.access import World
from tests.test_access import ROWS, ask, whole_world
from tunes.checks import services as checks
from tunes.harmony.pitch.spelling import Interval
from tunes.models import ChartRevision, Recording, Tune
from tunes.study import chart_of, study_chart

# Addresses that show a player a chord of a chart, by any method of the access table, and what they answer instead
# while it is closed: 403 with the reason, or (200) the page without the chart.
SHOWS_CHORDS = {
    "api:analysis": 403,
    "api:checks": 403,
    "api:hand-in": 403,
    "api:musicxml": 403,
    "api:places": 200,
    "api:plain-text": 403,
    "api:revision": 403,
    "api:solo-reading": 403,
    "drills:band": 403,
    "drills:band_download": 403,
    "drills:download": 403,
    "drills:drill": 403,
    "drills:keyboard": 403,
    "drills:line": 404,
    "drills:line-paper": 404,
    "drills:line-place": 404,
    "drills:line-through": 404,
    "drills:other_band": 403,
    "drills:other_band_echo": 403,
    "drills:pack_part": 403,
    "drills:take": 403,
    "drills:solo-file": 403,
    "tunes:area": 403,
    "tunes:by-ear-compare": 403,
    "tunes:check": 403,
    "tunes:compare": 403,
    "tunes:event": 403,
    "tunes:export-musicxml": 403,
    "tunes:export-text": 403,
    "tunes:idiom": 200,
    "tunes:jam-card": 403,
    "tunes:naming": 403,
    "tunes:revision": 200,
    "tunes:solo": 403,
    "tunes:solo-write": 403,
    "tunes:tune": 200,
    "tunes:variants-quiz": 403,
    "tunes:version": 200,
    "work:attempt": 403,
    "work:set-cards": 200,
    "work:handed-solo": 403,
    "work:own-quiz": 200,
    "work:reading-question": 403,
}
# Addresses that lead to chords without naming one in the access table's world: closed as well.
ALSO_CLOSED = {
    "tunes:memory-sheet": 403,  # numbers alone, which say the chords as well
    "drills:band_chorus": 403,
    "drills:keyboard_judge": 403,
    "drills:other_band_again": 403,
    "drills:other_band_chorus": 403,
    "api:solo": 403,
    "api:solo-notes": 403,
    "api:solos": 403,
    "api:solo-words": 403,
    "tunes:solo-answer": 403,
    "tunes:solos": 403,
    "tunes:top-of-form": 403,
    "tunes:check-bar": 403,
}
# Addresses that say chords of no chart: the marking table's examples, and what was typed, said back.
OF_NO_CHART = {
    "api:analyse",
    "api:echo",
    "api:lead-sheets",
    "api:marking-rules",
    "tunes:by-ear-save",
    "tunes:by-ear-chord",
    "work:echo",
    "work:marking-rules",
    "work:save",
}
# Not of the chart: tokens, and the examples of what may be typed.
SHOWN_ANYWAY = re.compile(
    r'<samp>[^<]*</samp>|csrfmiddlewaretoken" value="[^"]+"|X-CSRFToken[^}]+|nonce="[^"]+"'
    r'|<option value="numeral">[^<]+|\(ii7, V7/ii\)'
)
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


def functions() -> set[str]:
    """Every function of every chart as a numeral, with and without the key it is reckoned in."""
    found: set[str] = set()
    for revision in ChartRevision.objects.all():
        found |= {reading.function.numeral for reading in study_chart(revision).analysis.readings}
    return {word for word in found if len(word) > 1}


def functions_told(response: HttpResponse, numerals: set[str]) -> set[str]:
    """The functions that a page or a file names: of a PDF, in the text on its paper."""
    if response.status_code >= 300:
        return set()
    kind = response.headers.get("Content-Type", "").split(";")[0]
    if kind == "application/pdf":
        text = _on_paper(response)
    elif response.streaming or not kind.startswith(("text/", "application/json", "application/vnd.recordare.musicxml")):
        return set()
    else:
        text = SHOWN_ANYWAY.sub("", response.content.decode())
    return {word for word in numerals if re.search(rf"(?<![\w/]){re.escape(word)}(?![\w/])", text)}


def _on_paper(response: HttpResponse) -> str:
    document = pypdfium2.PdfDocument(getattr(response, "kept", None) or response.content)
    return "\n".join(page.get_textpage().get_text_range() for page in document)


def telling(
    world: World, words: set[str], role: str = "player", how: Callable[[HttpResponse, set[str]], set[str]] = told
) -> dict[str, list[str]]:
    """The rows that tell this person one of the words, each with a few of them."""
    found: dict[str, list[str]] = {}
    for row in ROWS:
        for method in row.methods():
            if row.route in OF_NO_CHART:
                continue
            world.clients[role].force_login(world.people[role])  # some rows sign out
            told_here = how(ask(world, row, role, method, reverse(row.route, kwargs=row.kwargs(world))), words)
            if told_here:
                found.setdefault(row.route + row.query, sorted(told_here)[:4])
    return found


def test_every_address_that_shows_a_player_chords_is_known_and_closes(world: World) -> None:
    chords = words()
    assert len(chords) > 20
    shown = {row.partition("?")[0] for row in telling(world, chords)}
    assert (sorted(shown - set(SHOWS_CHORDS)), sorted(set(SHOWS_CHORDS) - shown)) == ([], [])
    assign_by_ear(world)
    assert telling(world, chords) == {}


def test_a_bar_that_was_settled_is_told_nowhere(world: World) -> None:
    """Neither in the notice to the player who disputed it, nor in their letter, nor in the note on its source."""
    settled = checks.settle(
        check=world["dispute"], by=world.people["instructor"], chords="Abm7 Db7", note="Abm7 Db7, I hear"
    )
    assert "Abm7" in settled.source_note
    chords = words()
    assert "Abm7" in chords
    assign_by_ear(world)
    assert telling(world, chords) == {}
    assert Notice.objects.filter(user=world.people["player"], kind="settled").exists()
    assert send_digests()
    letters = "".join(letter.body for letter in mail.outbox)
    assert "is settled" in letters
    assert {word for word in chords if word in letters} == set()


def test_whoever_plays_is_held_there_whatever_they_lead(world: World) -> None:
    world.people["leader"] = factories.make_player(
        world.ensemble, user=factories.make_instructor(world.other_ensemble, "Lou Leader")
    )
    world.clients["leader"] = Client(raise_request_exception=False)
    _, key = make_token(owner=world.people["leader"], name="all", scopes=sorted(SCOPE_IDS), days=1)
    world["tokens"]["leader"] = {"Authorization": f"Bearer {key}"}
    chords = words()
    assert "tunes:chart_edit" in telling(world, chords, "leader")
    assign_by_ear(world)
    assert telling(world, chords, "leader") == {}
    Membership.objects.filter(user=world.people["leader"], ensemble=world.ensemble).delete()
    assert "tunes:chart_edit" in telling(world, chords, "leader")


def test_no_page_and_no_file_names_a_function_while_a_quiz_is_open(world: World) -> None:
    numerals = functions()
    assert {"V7", "ii7"} <= numerals
    before = telling(world, numerals, how=functions_told)
    assert {
        "api:analysis",
        "drills:download?functions=1",
        "drills:drill?functions=1",
        "drills:pack_part",
        "tunes:event",
        "tunes:export-text?analysis=yes",
        "tunes:tune",
    } <= set(before)
    for tune in Tune.objects.filter(versions__revisions__isnull=False).distinct():
        revision = ChartRevision.objects.filter(version__tune=tune).order_by("-number")[0]
        factories.make_assignment(world.ensemble, by=world.people["instructor"], revision=revision)
    assert telling(world, numerals, how=functions_told) == {}


def test_a_pack_tells_its_functions_once_the_answers_are_out(world: World) -> None:
    """Whoever makes it is told of the open quiz; areas are as silent as functions; old files are withheld like new ones."""
    pack, player, leader = world["pack"], world.people["player"], world.clients["instructor"]
    address = reverse("drills:pack_part", kwargs={"pk": pack.pk, "instrument": "tenor-sax"})
    form = reverse("drills:pack_new", kwargs={"revision": pack.revision_id})
    assert "still asked about" not in leader.get(form).content.decode()
    step = factories.make_assignment(world.ensemble, by=world.people["instructor"], revision=pack.revision).steps.get()
    for page in (form, reverse("drills:pack", args=[pack.pk])):
        assert f"“{step.name}” in Assignment, Ensemble one" in leader.get(page).content.decode()
    assert "still asked about" not in world.clients["other_instructor"].get(form).content.decode()

    def paper(role: str) -> str:
        response = world.clients[role].get(address)
        assert response.status_code == 200
        return _on_paper(HttpResponse(b"".join(response.streaming_content)))

    assert "V7" in paper("instructor")
    assert "V7" not in paper("player")
    assert "Drilled tune" in paper("player")
    factories.make_attempt(step, player, hand_in=True)
    assert "V7" in paper("player")
    assert "V7" not in paper("classmate")


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
    for route, kwargs in (
        ("tunes:tune", {"pk": world["tune"].pk}),
        ("drills:drill", {"revision": world["revision"].pk}),
    ):
        text = player.get(reverse(route, kwargs=kwargs)).content.decode()
        assert "its charts open when you hand in “Changes by ear”" in text
        assert "Go to the changes by ear" in text
