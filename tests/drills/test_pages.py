"""The pages of drills: what they show, what they cost, what they refuse, what they keep back."""

from __future__ import annotations

import uuid
from fractions import Fraction
from io import BytesIO
from typing import Any
from urllib.parse import parse_qsl

import pypdfium2
import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from drills.forms import DrillForm
from drills.models import Practice, PracticeItem
from drills.wishes import Wish
from studio.models import User
from tests import factories
from tests.drills.studies import FORM
from tunes import access as tunes_access

pytestmark = pytest.mark.django_db
MOST_QUERIES = 15


@pytest.fixture
def player() -> User:
    return factories.make_player(factories.make_ensemble(), "Pia", instrument="alto-sax")


@pytest.fixture
def client_of(player: User) -> Client:
    client = Client()
    client.force_login(player)
    return client


@pytest.fixture
def revision() -> Any:
    return factories.make_version(factories.make_tune("Quiet Canal", composer="A. Nobody"), FORM)


def page(revision: Any, **query: str) -> str:
    from urllib.parse import urlencode

    return reverse("drills:drill", args=[revision.pk]) + "?" + urlencode(query)


def test_a_drill_is_written_for_the_players_own_instrument(client_of: Client, revision: Any) -> None:
    text = client_of.get(page(revision)).content.decode()
    assert "written for alto saxophone" in text
    assert "C major" in text  # E flat sounding
    assert 'role="img"' in text
    assert "<style" not in text
    assert ' style="' not in text


def test_the_other_key_and_pitch_are_labelled(client_of: Client, revision: Any) -> None:
    text = client_of.get(page(revision, written="0", order="fourths", at="1")).content.decode()
    assert "concert pitch" in text
    assert "A♭ major · concert pitch" in text


def test_an_htmx_request_gets_the_sheet_alone(client_of: Client, revision: Any) -> None:
    text = client_of.get(page(revision), headers={"HX-Request": "true"}).content.decode()
    assert text.lstrip().startswith('<section id="sheet"')


@pytest.mark.parametrize("times", [1, 2])
def test_queries(client_of: Client, revision: Any, times: int, django_assert_max_num_queries: Any) -> None:
    for _ in range(times):
        with django_assert_max_num_queries(MOST_QUERIES):
            client_of.get(page(revision))


@pytest.mark.parametrize("count", [3, 60])
@pytest.mark.parametrize("name", ["drills:index", "drills:practice", "drills:packs"])
def test_queries_do_not_grow(
    client_of: Client, player: User, name: str, count: int, django_assert_max_num_queries: Any
) -> None:
    from drills.lines.build import Recipe
    from drills.services import practice

    for number in range(count):
        revision = factories.make_version(factories.make_tune(f"Tune {number}"))
        practice.record(
            user=player, revision=revision, wish=Wish(Recipe()), tempo=80, went="steady", token=str(uuid.uuid4())
        )
    with django_assert_max_num_queries(MOST_QUERIES):
        assert client_of.get(reverse(name)).status_code == 200


# Words that are wrong in an address take their default; wrong fields of the form are said.
@pytest.mark.parametrize(
    "query",
    [
        {"kind": "nonsense"}, {"tempo": "fast"}, {"events": "9-x"}, {"at": "99", "order": "random"}, {"instrument": "kazoo"},
        {"first_bar": "-4"}, {"per_system": "77"}, {"events": "0-99999"}, {"voices": "9", "ornament": "☃"},
    ],
)  # fmt: skip
def test_no_address_breaks_the_page(client_of: Client, revision: Any, query: dict[str, str]) -> None:
    assert client_of.get(page(revision, **query)).status_code == 200


def test_the_form_says_what_is_missing(client_of: Client, revision: Any) -> None:
    text = client_of.get(page(revision, form="1", kind="scales", part="bars")).content.decode()
    assert "Type the first bar to practise." in text


def test_bars_without_chords_are_said(client_of: Client, revision: Any) -> None:
    text = client_of.get(page(revision, first_bar="32", last_bar="32")).content.decode()
    assert "There is no chord in these bars" in text
    answer = client_of.get(reverse("drills:download", args=[revision.pk, "pdf"]) + "?first_bar=32&last_bar=32")
    assert answer.status_code == 422


def test_downloads(client_of: Client, revision: Any) -> None:
    base = page(revision, kind="arpeggios", start="nearest").split("?")[1]
    files = {
        name: client_of.get(reverse("drills:download", args=[revision.pk, name]) + "?" + base).content
        for name in ("musicxml", "midi", "pdf")
    }
    assert (
        etree.fromstring(files["musicxml"]).findtext(".//work-title")
        == "Quiet Canal: Arpeggios, up, running on to the nearest tone, in eighths"
    )
    assert files["midi"][:4] == b"MThd"
    document = pypdfium2.PdfDocument(files["pdf"])
    assert len(document) == 1
    assert client_of.get(reverse("drills:download", args=[revision.pk, "exe"])).status_code == 404


def test_the_printed_page_really_shows_the_music(client_of: Client, revision: Any) -> None:
    """Rasterised: an SVG that was silently left out would leave the middle of the page white."""
    content = client_of.get(
        reverse("drills:download", args=[revision.pk, "pdf"]) + "?kind=arpeggios&functions=1"
    ).content
    sheet = pypdfium2.PdfDocument(BytesIO(content))[0]
    picture = sheet.render(scale=2).to_pil().convert("L")
    width, height = picture.size
    dark = sum(1 for value in picture.crop((0, height // 4, width, height // 2)).get_flattened_data() if value < 128)
    assert dark > 5_000
    text = sheet.get_textpage().get_text_range()
    assert "F♯ø" in text  # a chord symbol as real text, accidentals included
    assert "Quiet Canal" in text


def test_functions_are_kept_back_while_a_quiz_is_open(
    client_of: Client, revision: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(
        tunes_access, "_HOLDS", [lambda user, tunes: dict.fromkeys(tunes, tunes_access.Hold("a quiz is open"))]
    )
    text = client_of.get(page(revision, functions="1")).content.decode()
    assert "You still have a quiz on this tune" in text
    assert 'class="function"' not in text
    assert 'class="area"' not in text
    assert "Key areas" not in text


def test_functions_are_shown_otherwise(client_of: Client, revision: Any) -> None:
    text = client_of.get(page(revision, functions="1")).content.decode()
    assert 'class="function"' in text
    assert 'class="area"' in text


def test_practised_twice_by_a_double_click_is_once(client_of: Client, revision: Any, player: User) -> None:
    address = reverse("drills:practised", args=[revision.pk]) + "?kind=scales&start=root"
    data = {"tempo": 96, "went": "steady", "token": str(uuid.uuid4()), "note": "<b>fine</b>"}
    for _ in range(2):
        assert client_of.post(address, data).status_code == 302
    assert Practice.objects.filter(user=player).count() == 1
    assert PracticeItem.objects.get(user=player).times == 1
    assert "<b>fine" not in client_of.get(reverse("drills:practice")).content.decode()


@pytest.mark.parametrize(
    "data", [{}, {"tempo": 9999, "went": "steady"}, {"tempo": 90, "went": "superb"}, {"tempo": "x"}]
)
def test_what_is_missing_in_the_log_is_said(client_of: Client, revision: Any, data: dict[str, Any]) -> None:
    answer = client_of.post(reverse("drills:practised", args=[revision.pk]), data, headers={"HX-Request": "true"})
    assert answer.status_code == 422


def test_every_wish_goes_through_its_address() -> None:
    from tests.drills.lines import RECIPES

    for recipe in RECIPES:
        wish = Wish(recipe=recipe, instrument="trombone", written=False, order="random", seed=4, at=3, functions=True)
        assert Wish.from_query(dict(parse_qsl(wish.query()))) == wish


def test_form_and_wish_say_the_same(revision: Any) -> None:
    from drills.forms import form_data
    from tests.drills.lines import RECIPES
    from tunes.study import study_chart

    for recipe in RECIPES:
        wish = Wish(recipe=recipe, instrument="trumpet")
        data = {key: value for key, value in form_data(wish).items() if value not in (None, False)}
        form = DrillForm(data, study=study_chart(revision), open_analysis=True)
        assert form.is_valid(), form.errors
        found = form.wish()
        assert (found.recipe.kind, found.recipe.start, found.recipe.voices) == (
            recipe.kind,
            recipe.start,
            recipe.voices,
        )


def test_a_named_progression_is_a_part_to_practise(client_of: Client, revision: Any) -> None:
    factories.make_idiom("Home run", "2min 5dom 1maj")
    text = client_of.get(page(revision)).content.decode()
    assert "Home run, bars 3 to" not in text
    assert "Home run, bars 14 to 15" in text


FIELDS = ("kind", "start", "voices", "ornament", "direction", "value", "ninth", "first_bar", "last_bar", "events", "tempo",
          "instrument", "written", "order", "seed", "at", "functions", "per_system")  # fmt: skip


@given(st.dictionaries(st.sampled_from(FIELDS), st.text(max_size=12) | st.integers().map(str)))
def test_any_query_is_some_wish(query: dict[str, str]) -> None:
    wish = Wish.from_query(query)
    assert Wish.from_query(dict(parse_qsl(wish.query()))) == wish


def test_another_order_of_the_twelve_keys(client_of: Client, revision: Any) -> None:
    first = client_of.get(page(revision, order="random", seed="1")).content.decode()
    assert "Another order" in first
    second = client_of.get(page(revision, order="random", seed="2")).content.decode()
    keys = [text.split('aria-label="Keys of the drill"')[1].split("</nav>")[0] for text in (first, second)]
    assert keys[0].count("<li>") == 13
    assert [part.split("<")[0] for part in keys[0].split(">")] != [part.split("<")[0] for part in keys[1].split(">")]


def test_a_melody_note_overrules_a_scale_and_says_why(client_of: Client) -> None:
    """Common practice: the melody of the reference decides over the usual scale."""
    from tunes.harmony.pitch.spelling import Pitch
    from tunes.interchange.melody import Melody, MelodyNote
    from tunes.models_recordings import Melody as KeptMelody

    revision = factories.make_version(factories.make_tune("Sharp Four"), "key: C major\n| Cmaj7 | Dm7 G7 | Cmaj7 |")
    plain = client_of.get(page(revision, kind="scales", start="root", written="0")).content.decode()
    assert "The melody has" not in plain
    note = MelodyNote(0, Fraction(0), Fraction(4), Pitch.parse("F#5"))
    KeptMelody.objects.create(version=revision.version, notes=Melody((note,)).to_json(), rights="invented for a test")
    told = client_of.get(page(revision, kind="scales", start="root", written="0")).content.decode()
    assert "The melody has F♯, which is not in C Ionian: Lydian." in told
    written = client_of.get(page(revision, kind="scales", start="root", instrument="alto-sax")).content.decode()
    assert "The melody has D♯, which is not in A Ionian: Lydian." in written
