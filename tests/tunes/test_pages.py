"""The pages of the repertoire: what they show, what they refuse, how many questions they ask the database."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from studio.models import User
from tests import factories
from tunes import access, selectors
from tunes.engine import RULES
from tunes.harmony.pitch.spelling import Key
from tunes.harmony.readings.function import Function
from tunes.models import ChartDraft, ChartRevision, Idiom, Recording, Tune
from tunes.services import charts as services
from tunes.services import overrules
from tunes.study import study_chart

pytestmark = pytest.mark.django_db
AABA = (
    "key: Eb major\n\nA:\n|: Ebmaj7 | Cm7 F7 | Fm7 Bb7 |1. Gm7 C7 :|2. Eb6 |\n\n"
    "B:\n| Bbm7 Eb7 | Abmaj7 | Abm7 Db7 | Gbmaj7 |"
)


@pytest.fixture
def instructor() -> User:
    return factories.make_instructor(factories.make_ensemble())


@pytest.fixture
def player() -> User:
    return factories.make_player(factories.make_ensemble(), instrument="alto-sax")


@pytest.fixture
def signed_in(client: Client) -> Callable[[User], Client]:
    def sign_in(user: User) -> Client:
        client.force_login(user)
        return client

    return sign_in


def text_of(response: Any) -> str:
    return " ".join(response.content.decode().split())


# --- lists


@pytest.mark.parametrize(
    ("query", "titles"),
    [
        ("", ["Alder", "Birch", "Cedar"]),
        ("?q=bir", ["Birch"]),
        ("?q=quill", ["Cedar"]),
        ("?q=band%20alder", ["Alder"]),
        ("?key=F+major", ["Birch"]),
        ("?form=AABA", ["Alder"]),
        ("?metre=3/4", ["Cedar"]),
        ("?state=checked", ["Alder"]),
        ("?state=no-chart", ["Birch", "Cedar"]),
        ("?state=lyrics", ["Cedar"]),
        ("?state=nonsense&page=99", ["Alder", "Birch", "Cedar"]),
        ("?q=zzz", []),
    ],
)
def test_the_list_finds_tunes(query: str, titles: list[str], signed_in: Callable[[User], Client], player: User) -> None:
    alder = factories.make_tune("Alder", form="AABA", key="Eb major")
    factories.make_tune("Birch", key="F major")
    factories.make_tune("Cedar", metre="3/4", composer="O. Quill", has_lyrics=True, key="G major")
    factories.make_recording(alder, "The Alder Band")
    factories.make_version(alder, checked=True, by=player)
    response = signed_in(player).get(reverse("tunes:index") + query)
    assert [tune.title for tune in response.context["page"]] == titles


def test_htmx_gets_the_list_alone(signed_in: Callable[[User], Client], player: User) -> None:
    response = signed_in(player).get(reverse("tunes:index"), headers={"HX-Request": "true"})
    assert "<html" not in response.content.decode()


def many(count: int, by: User) -> Tune:
    """A repertoire of `count` tunes; the last one has as many recordings, revisions and overrules as a busy year leaves."""
    tune = factories.make_tune()
    for number in range(count - 1):
        factories.make_tune()
        factories.make_recording(tune)
        Idiom.objects.create(name=f"idiom {number} of {count}", pattern="2min 5dom")
    revision = factories.make_version(tune, AABA)
    for number in range(min(count, 12)):
        factories.make_version(tune, AABA, name=f"version {number} of {count}")
        services.save_revision(version=revision.version, text=AABA + f"\n# {number}", by=by)
    return tune


@pytest.mark.parametrize("route", ["index", "tune", "version", "event", "area", "chart_edit", "idioms", "idiom"])
def test_pages_ask_the_database_little_and_no_more_with_a_large_repertoire(
    route: str, signed_in: Callable[[User], Client], instructor: User
) -> None:
    client = signed_in(instructor)
    counts = []
    for size in (10, 400):
        tune = many(size, instructor)
        revision = ChartRevision.objects.filter(version__tune=tune, version__is_agreed=True).first()
        assert revision is not None
        kwargs: dict[str, dict[str, int]] = {
            "tune": {"pk": tune.pk},
            "version": {"pk": tune.pk, "version": revision.version_id},
            "chart_edit": {"pk": tune.pk, "version": revision.version_id},
            "event": {"revision": revision.pk, "event": 1},
            "area": {"revision": revision.pk, "event": 1},
            "idiom": {"pk": Idiom.objects.first().pk},  # type: ignore[union-attr]
        }
        address = reverse(f"tunes:{route}", kwargs=kwargs.get(route))
        client.get(address)
        with CaptureQueriesContext(
            connection,
        ) as asked:
            assert client.get(address).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1] <= 15, counts


def test_a_tune_comes_with_its_chart_in_six_questions(
    instructor: User, django_assert_num_queries: Callable[[int], Any]
) -> None:
    tune = many(3, instructor)
    with django_assert_num_queries(6):
        found, revision = selectors.tune_with_chart(tune.pk)
        assert found is not None
        assert revision is not None
        assert study_chart(revision).chart.bars
        assert [version.latest for version in found.versions.all() if version.is_agreed] == [revision]
    assert revision == selectors.agreed_revision(tune)
    bare = factories.make_tune("Without a chart")
    assert selectors.tune_with_chart(bare.pk) == (bare, None)
    assert selectors.tune_with_chart(987654) == (None, None)


# --- a tune


def test_a_tune_shows_its_reference_and_why(signed_in: Callable[[User], Client], player: User) -> None:
    tune = factories.make_tune(title="Alder")
    factories.make_recording(tune, "Second")
    factories.make_recording(tune, "First", is_reference=True, why="You can hear the bass.")
    page = text_of(signed_in(player).get(reverse("tunes:tune", args=[tune.pk])))
    assert page.index("First") < page.index("You can hear the bass.") < page.index("Second")


@pytest.mark.parametrize(
    ("field", "value", "says"),
    [
        ("title", "", "required"),
        ("title", "alder", "in the repertoire already"),
        ("key", "H major", "not a key"),
        ("metre", "four", "Write beats and unit"),
        ("metre", "4/5", "Write beats and unit"),
        ("tempo_low", "5", "between 20 and 400"),
        ("tempo_high", "90", "write 120 or more"),
    ],
)
def test_a_bad_fact_is_named_and_nothing_typed_is_lost(
    field: str, value: str, says: str, signed_in: Callable[[User], Client], instructor: User
) -> None:
    factories.make_tune("Alder")
    data = {"title": "Birch", "key": "Eb", "metre": "4/4", "tempo_low": "120", "notes": "Typed with care."}
    response = signed_in(instructor).post(reverse("tunes:tune_new"), data | {field: value})
    page = text_of(response)
    assert response.status_code == 422
    assert says in page
    assert "Typed with care." in page
    assert Tune.objects.count() == 1


def test_facts_are_written_in_one_form(signed_in: Callable[[User], Client], instructor: User) -> None:
    data = {"title": "  Birch   Lane ", "key": "Ebm", "metre": " 12 / 8 "}
    signed_in(instructor).post(reverse("tunes:tune_new"), data)
    tune = Tune.objects.get()
    assert (tune.title, tune.key, tune.metre, tune.created_by) == ("Birch Lane", "Eb minor", "12/8", instructor)


def test_a_reference_needs_a_reason(signed_in: Callable[[User], Client], instructor: User) -> None:
    tune = factories.make_tune()
    address = reverse("tunes:recording_new", args=[tune.pk])
    response = signed_in(instructor).post(address, {"leader": "Somebody", "is_reference": "on"})
    assert "the first thing that players ask" in text_of(response)
    assert not Recording.objects.exists()


def test_a_recording_that_a_chart_was_taken_from_stays(signed_in: Callable[[User], Client], instructor: User) -> None:
    tune = factories.make_tune()
    recording = factories.make_recording(tune, "Source")
    factories.make_version(tune, source_kind="by-ear", source_recording=recording)
    address = reverse("tunes:recording_delete", args=[tune.pk, recording.pk])
    response = signed_in(instructor).post(address, follow=True)
    assert "a chart names it as its source" in text_of(response)
    assert Recording.objects.exists()


def test_titles_and_comments_are_never_html(signed_in: Callable[[User], Client], player: User) -> None:
    tune = factories.make_tune("<script>alert(1)</script>", notes="<b>bold</b>")
    factories.make_version(tune, 'key: C major\nA:\n| C7 "<img src=x>" |')
    page = signed_in(player).get(reverse("tunes:tune", args=[tune.pk])).content.decode()
    assert "<script>alert" not in page
    assert "<b>bold" not in page
    assert "<img" not in page


# --- the sheet


def test_a_player_sees_written_pitch_by_default_and_it_says_so(
    signed_in: Callable[[User], Client], player: User
) -> None:
    tune = factories.make_tune()
    factories.make_version(tune, AABA)
    response = signed_in(player).get(reverse("tunes:tune", args=[tune.pk]))
    assert response.context["pitch"] == "Written for alto saxophone in C major (concert E♭ major)"
    assert response.context["chart"].rows[0].symbol.text == "Cmaj7"


@pytest.mark.parametrize(
    ("query", "pitch"),
    [
        ("?for=piano", "Concert pitch, E♭ major"),
        ("?for=piano&key=F", "Concert pitch, F major"),
        ("?for=trumpet&key=F", "Written for trumpet in B♭ in G major (concert F major)"),
        ("?for=kazoo&key=nonsense&words=7&repeats=9", "Written for alto saxophone in C major (concert E♭ major)"),
    ],
)
def test_any_key_and_instrument(query: str, pitch: str, signed_in: Callable[[User], Client], player: User) -> None:
    tune = factories.make_tune()
    factories.make_version(tune, AABA)
    response = signed_in(player).get(reverse("tunes:tune", args=[tune.pk]) + query)
    assert response.context["pitch"] == pitch


def test_functions_in_the_form_asked_for(signed_in: Callable[[User], Client], player: User) -> None:
    tune = factories.make_tune()
    factories.make_version(tune)
    address = reverse("tunes:tune", args=[tune.pk])
    client = signed_in(player)
    assert "data-function>V7<" in text_of(client.get(address))
    assert "data-function>5<" in text_of(client.get(address + "?words=spoken"))
    assert "data-function" not in text_of(client.get(address + "?show=chart"))


@pytest.fixture
def held(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(
        access, "_HOLDS", [lambda user, tunes: dict.fromkeys(tunes, access.Hold("Hand your quiz in first."))]
    )


@pytest.mark.usefixtures("held")
def test_analysis_is_held_back_from_players_with_an_open_quiz_only(
    client: Client, player: User, instructor: User
) -> None:
    tune = factories.make_tune()
    revision = factories.make_version(tune)
    page, panel = reverse("tunes:tune", args=[tune.pk]), reverse("tunes:event", args=[revision.pk, 0])
    client.force_login(player)
    shown = text_of(client.get(page))
    assert "Hand your quiz in first." in shown
    assert "data-function" not in shown
    assert client.get(panel).status_code == 403
    assert client.get(reverse("tunes:area", args=[revision.pk, 0])).status_code == 403
    client.force_login(instructor)
    assert "data-function" in text_of(client.get(page))
    assert client.get(panel).status_code == 200


# --- overruling on the page


def test_an_overrule_is_read_in_the_key_that_is_shown(signed_in: Callable[[User], Client], instructor: User) -> None:
    """The sheet stands in C; the chart was typed in B flat. What is stored is concert pitch as typed."""
    revision = factories.make_version()  # Cm7 F7 | Bbmaj7 …
    address = reverse("tunes:overrule", args=[revision.pk, 1]) + "?for=piano&key=C"
    response = signed_in(instructor).post(
        address, {"key": "C major", "reading": "5", "why": "so"}, headers={"HX-Request": "true"}
    )
    assert response.status_code == 200
    row = revision.label_overrides.get()
    assert (row.key, row.function["numeral"]) == ("Bb major", "V7")
    assert "Confirmed by" in text_of(response)  # it says what is computed
    assert 'id="chart" hx-swap-oob="true"' in response.content.decode()


@pytest.mark.parametrize(
    ("instrument", "key"), [("piano", "B♭ major"), ("alto-sax", "G major"), ("trumpet", "C major")]
)
@pytest.mark.parametrize("route", ["event", "area"])
def test_the_panel_names_keys_in_the_pitch_of_the_page(
    route: str, instrument: str, key: str, signed_in: Callable[[User], Client], player: User
) -> None:
    revision = factories.make_version()
    page = text_of(signed_in(player).get(reverse(f"tunes:{route}", args=[revision.pk, 2]) + f"?for={instrument}"))
    panel = page[page.index("data-panel") : page.index("</main>")]
    assert set(re.findall(r"[A-G][♭♯]? (?:major|minor)", panel)) >= {key}
    assert ("B♭" in panel) == (instrument == "piano")


def test_the_panel_of_an_overrule_keeps_the_computed_reason_apart(
    signed_in: Callable[[User], Client], instructor: User
) -> None:
    revision = factories.make_version(text="key: C major\n\nA:\n| C6 | F#dim7 | C6/G G7 | C6 |")
    client = signed_in(instructor)
    address = reverse("tunes:overrule", args=[revision.pk, 1]) + "?for=piano"
    panel = text_of(
        client.post(address, {"key": "C major", "reading": "7 of 5", "why": "ear"}, headers={"HX-Request": "true"})
    )
    assert "Overruled by" in panel
    counts, _, computed = panel.partition("<h3>Computed</h3>")
    rule = RULES[study_chart(revision).computed.readings[1].rule].name
    assert "Overruled by" in counts
    assert "ear" in counts
    assert "breaks off" not in counts
    assert rule not in counts
    assert rule in computed


def test_an_overrule_of_another_chord_is_refused(signed_in: Callable[[User], Client], instructor: User) -> None:
    revision = factories.make_version()
    address = reverse("tunes:overrule", args=[revision.pk, 1]) + "?for=piano"
    response = signed_in(instructor).post(address, {"key": "Bb major", "reading": "2", "why": "kept"})
    assert response.status_code == 422
    assert "stands on" in text_of(response)
    assert "kept" in text_of(response)
    assert not revision.label_overrides.exists()


# --- the editor


def draft_address(tune: Tune) -> str:
    return reverse("tunes:draft_new", args=[tune.pk])


def test_a_draft_answers_with_the_preview_and_survives(signed_in: Callable[[User], Client], instructor: User) -> None:
    tune = factories.make_tune()
    client = signed_in(instructor)
    answer = client.post(draft_address(tune), {"text": "| C7 | Hm7 |", "serial": "0"})
    assert (answer.status_code, answer.headers["X-Draft-Serial"]) == (200, "1")
    assert "Bar 2" in text_of(answer)
    assert not ChartRevision.objects.exists()
    client.logout()
    client.force_login(instructor)
    assert "| C7 | Hm7 |" in text_of(client.get(reverse("tunes:chart_new", args=[tune.pk])))


def test_two_windows_are_told_of_each_other(signed_in: Callable[[User], Client], instructor: User) -> None:
    tune = factories.make_tune()
    client = signed_in(instructor)
    client.post(draft_address(tune), {"text": "| C7 |", "serial": "0"})
    client.post(draft_address(tune), {"text": "| C7 | F7 |", "serial": "1"})
    answer = client.post(draft_address(tune), {"text": "| D7 |", "serial": "1"})
    assert answer.status_code == 409
    assert "| C7 | F7 |" in answer.content.decode()
    assert ChartDraft.objects.get().text == "| C7 | F7 |"


def test_a_tune_says_that_a_draft_of_its_chart_waits(signed_in: Callable[[User], Client], instructor: User) -> None:
    revision = factories.make_version()
    tune, version = revision.version.tune, revision.version
    client = signed_in(instructor)
    pages = [reverse("tunes:tune", args=[tune.pk]), reverse("tunes:version", args=[tune.pk, version.pk])]
    assert not any("Go on with the draft" in client.get(page).content.decode() for page in pages)
    edit, new = reverse("tunes:chart_edit", args=[tune.pk, version.pk]), reverse("tunes:chart_new", args=[tune.pk])
    client.post(reverse("tunes:draft", args=[tune.pk, version.pk]), {"text": "| C7 |", "serial": "0"})
    client.post(draft_address(tune), {"text": "| F7 |", "serial": "0"})
    said = [re.findall(r'<a href="([^"]+)">Go on with the draft', client.get(page).content.decode()) for page in pages]
    assert said == [[new, edit], [edit]]
    other = factories.make_instructor(factories.make_ensemble())
    assert not any("Go on with the draft" in signed_in(other).get(page).content.decode() for page in pages)


def test_a_discarded_draft_can_be_taken_back(signed_in: Callable[[User], Client], instructor: User) -> None:
    tune = factories.make_tune()
    client = signed_in(instructor)
    client.post(draft_address(tune), {"text": "| C7 |", "serial": "0"})
    client.post(reverse("tunes:discard_new", args=[tune.pk]))
    assert not ChartDraft.objects.exists()
    client.post(reverse("tunes:take_back_new", args=[tune.pk]))
    assert ChartDraft.objects.get().text == "| C7 |"


def save(client: Client, tune: Tune, **data: str) -> Any:
    given = {"name": "as played", "source_kind": "other", "text": "key: C\n| C7 |", "based_on": "0"} | data
    return client.post(reverse("tunes:chart_new", args=[tune.pk]), given)


def test_a_chart_just_saved_stands_in_the_pitch_it_was_typed_in(
    signed_in: Callable[[User], Client], instructor: User
) -> None:
    instructor.instrument = "alto-sax"
    instructor.save()
    tune, client = factories.make_tune(), signed_in(instructor)
    page = text_of(client.get(reverse("tunes:chart_new", args=[tune.pk])))
    assert "next revision" not in page
    answer = client.post(
        reverse("tunes:chart_new", args=[tune.pk]),
        {"name": "as played", "source_kind": "other", "text": "key: Bb\n| Bb7 |", "based_on": "0"},
        follow=True,
    )
    assert "Concert pitch, B♭ major" in text_of(answer)
    assert "in concert pitch, as you typed it" in text_of(answer)
    edit = reverse("tunes:chart_edit", args=[tune.pk, ChartRevision.objects.get().version_id])
    assert "Save as the next revision" in text_of(client.get(edit))


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"text": "| C7 | Hm7 |"}, "Not saved yet"),
        ({"text": ""}, "Not saved yet"),
        ({"name": ""}, "required"),
        ({"source_kind": "by-ear"}, "Say which recording"),
        ({"source_kind": "telepathy"}, "is not in it"),
    ],
)
def test_a_chart_that_cannot_be_saved_comes_back_whole(
    data: dict[str, str], says: str, signed_in: Callable[[User], Client], instructor: User
) -> None:
    tune = factories.make_tune()
    response = save(signed_in(instructor), tune, source_note="page 7", **data)
    assert response.status_code == 422
    assert says in text_of(response)
    assert "page 7" in text_of(response)
    assert not ChartRevision.objects.exists()


def test_saving_a_chart_makes_revision_one(signed_in: Callable[[User], Client], instructor: User) -> None:
    tune = factories.make_tune()
    response = save(signed_in(instructor), tune, checked="on")
    revision = ChartRevision.objects.get()
    assert response.headers["Location"] == reverse("tunes:version", args=[tune.pk, revision.version_id]) + "?for=piano"
    assert (revision.number, revision.checked, revision.created_by, revision.version.is_agreed) == (
        1,
        True,
        instructor,
        True,
    )


def test_a_revision_saved_by_another_is_shown_and_the_text_kept(
    signed_in: Callable[[User], Client], instructor: User
) -> None:
    revision = factories.make_version(text="key: C\n| C7 |")
    version = revision.version
    services.save_revision(version=version, text="key: C\n| D7 |", by=None)
    address = reverse("tunes:chart_edit", args=[version.tune_id, version.pk])
    data = {"name": version.name, "source_kind": "other", "text": "key: C\n| E7 |", "based_on": "1"}
    client = signed_in(instructor)
    response = client.post(address, data)
    assert response.status_code == 409
    assert "revision 2" in text_of(response)
    assert "| E7 |" in text_of(response)
    assert client.post(address, data | {"based_on": str(response.context["based_on"])}).status_code == 302
    assert version.revisions.count() == 3


def test_overrules_that_do_not_come_along_are_told(signed_in: Callable[[User], Client], instructor: User) -> None:
    """They used to be dropped in silence when their chord had changed."""
    revision = factories.make_version(text="key: C\n| Dm7 | G7 | Cmaj7 | Cmaj7 |")
    function = Function("2", "m7", "predominant", "diatonic")
    overrules.overrule(
        revision=revision, event=1, key=Key.parse("C"), function=function, why="as we hear it", by=instructor
    )
    tune = revision.version.tune
    given = {
        "name": "as played",
        "source_kind": "other",
        "text": "key: C\n| Dm7 | Db7 | Cmaj7 | Cmaj7 |",
        "based_on": "1",
    }
    client = signed_in(instructor)
    page = client.post(reverse("tunes:chart_edit", args=[tune.pk, revision.version_id]), given, follow=True)
    assert "bar 2: ii7 in C major (as we hear it)" in page.content.decode()


def test_an_agreed_chart_leads_to_assigning_it(
    signed_in: Callable[[User], Client], instructor: User, player: User
) -> None:
    tune = factories.make_version().version.tune
    assign = f"{reverse('work:assign')}?tune={tune.pk}"
    assert assign in text_of(signed_in(instructor).get(reverse("tunes:tune", args=[tune.pk])))
    assert assign not in text_of(signed_in(player).get(reverse("tunes:tune", args=[tune.pk])))


def test_a_tune_without_facts_of_its_own_shows_the_key_and_form_of_its_chart(
    signed_in: Callable[[User], Client], player: User
) -> None:
    tune = factories.make_tune("Alder", key="")
    factories.make_version(tune, AABA)
    page = text_of(signed_in(player).get(reverse("tunes:tune", args=[tune.pk])))
    facts = page.split('tune-head__facts">')[1].split("</p>")[0]
    assert facts == "<span>E♭ major</span><span>AAB</span><span>4/4</span>"
    assert "as promised: where another chord comes instead, the line breaks" in page
