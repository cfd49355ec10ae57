"""Bars chosen on a chart: what they make, where else it comes, and the name that is given to it."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import Notice, User
from tests import factories
from tunes import access
from tunes.models import Idiom
from tunes.services import proposals

pytestmark = pytest.mark.django_db
ALDER = "key: F\n| Fmaj7 | Cm7 F7 | Bbmaj7 | Gm7 C7 |"
BIRCH = "key: C\n| Cmaj7 | Dm7 | G7 | C6 |\n| Dm9 Db7 | Cmaj7 |"


@pytest.fixture
def world(client: Client) -> tuple[Client, str, User]:
    director = factories.make_director()
    client.force_login(director)
    revision = factories.make_version(factories.make_tune("Alder"), ALDER)
    factories.make_version(factories.make_tune("Birch"), BIRCH)
    return client, reverse("tunes:naming", args=[revision.pk]) + "?for=concert&", director


@pytest.mark.parametrize(
    ("asked", "said", "pattern", "others"),
    [
        ("from=2&to=3", "2 minor, 5 dominant, 1 major", "2min 5dom 1maj", 2),
        ("from=2&to=3&fold=yes", "2 minor, 5 dominant, 1 major", "2min 5dom 1maj", 3),
        ("from=2&to=3&count=1", "5 minor, 1 dominant, 4 major", "5min 1dom 4maj", 0),
        ("from=2&to=3&close=exact", "2 minor 7, 5 dominant, 1 major 7", "2m7 5dom 1maj7", 1),
        ("from=2&to=3&where=away", "2 minor, 5 dominant, 1 major", "away: 2min 5dom 1maj", 0),
        ("from=2&to=3&where=home", "2 minor, 5 dominant, 1 major", "2min 5dom 1maj", 2),  # not at home here
        ("from=2&to=3&opt=0", "2 minor if you like, 5 dominant, 1 major", "(2min) 5dom 1maj", 2),
        ("from=2&to=3&begin=2", "5 dominant, 1 major", "5dom 1maj", 2),
        ("from=4&to=1", "2 minor, 5 dominant, 1 major", "2min 5dom 1maj", 2),  # round to the top
    ],
)
def test_bars_are_said_and_counted(
    world: tuple[Client, str, User], asked: str, said: str, pattern: str, others: int
) -> None:
    client, url, _ = world
    made = client.get(url + asked).context["made"]
    assert (made.said, made.pattern, made.others) == (said, pattern, others)
    assert len(made.found) == others


def test_every_choice_says_how_many_places_it_finds(world: tuple[Client, str, User]) -> None:
    client, url, _ = world
    made = client.get(url + "from=2&to=3").context["made"]
    assert [(one.value, one.others) for one in made.closeness] == [("kind", 2), ("exact", 1), ("any", 2)]
    assert [(one.value, one.others) for one in made.places] == [("anywhere", 2), ("away", 0), ("sound", 2)]


def test_the_name_is_kept_for_everyone_and_found_again(world: tuple[Client, str, User]) -> None:
    client, url, director = world
    answer = client.post(url + "from=2&to=3", {"name": " the  short way ", "notes": "Sing it."})
    idiom = Idiom.objects.get()
    assert answer.url == reverse("tunes:idiom", args=[idiom.pk])
    assert (idiom.name, idiom.pattern, idiom.notes, idiom.made_by) == (
        "the short way", "2min 5dom 1maj", "Sing it.", director,
    )  # fmt: skip
    assert [one.name for one in client.get(url + "from=2&to=3").context["made"].called] == ["the short way"]
    again = client.post(url + "from=4&to=1", {"name": "THE SHORT WAY", "notes": "Kept."})
    assert again.status_code == 422
    assert "Another idiom has this name already." in again.text
    assert "Kept." in again.text


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("", "No bar chosen yet."),
        ("from=1&to=1", "at least two chords"),
        ("from=77&to=99", "No bar chosen yet."),
        ("from=x&to=3&begin=9&end=999999999&opt=-1&count=7", "No bar chosen yet."),
        ("from=2&to=3&begin=999&end=x&opt=77&count=7&close=x&where=x", "5 minor, 1 dominant, 4 major"),
    ],
)
def test_whatever_the_address_says_the_page_answers(world: tuple[Client, str, User], asked: str, words: str) -> None:
    client, url, _ = world
    assert words in client.get(url + asked).text
    posted = client.post(url + asked, {"name": ""})
    assert posted.status_code == 422
    assert not Idiom.objects.exists()


def test_a_player_finds_but_does_not_name_and_tunes_held_back_are_not_told(
    world: tuple[Client, str, User], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, url, _ = world
    ensemble = factories.make_ensemble()
    factories.make_instructor(ensemble, user=factories.make_instructor(factories.make_ensemble()))
    client.force_login(factories.make_player(ensemble))
    page = client.get(url + "from=2&to=3")
    assert page.context["made"].others == 2
    assert "Name it" not in page.text
    assert client.post(url + "from=2&to=3", {"name": "mine"}).status_code == 302
    assert not Idiom.objects.exists()
    birch = page.context["made"].found[-1].tune
    assert birch.title == "Birch"
    monkeypatch.setattr(
        access, "_HOLDS", [lambda user, tunes: {pk: access.Hold("A quiz is open.") for pk in tunes & {birch.pk}}]
    )
    page = client.get(url + "from=2&to=3")
    assert page.context["made"].others == 1
    assert "Birch" not in page.text


def test_a_player_proposes_a_name_and_hears_that_it_was_given(world: tuple[Client, str, User]) -> None:
    """Only those who lead a running ensemble of the player's are told, once; a forged `by` tells nobody anything."""
    client, url, _ = world
    ensemble, other = factories.make_ensemble(), factories.make_ensemble()
    leader, stranger = factories.make_instructor(ensemble), factories.make_instructor(other)
    player, alone = factories.make_player(ensemble), factories.make_player(factories.make_ensemble())
    client.force_login(player)
    asked = url + "from=2&to=3&close=exact&words=spoken"
    assert client.post(url, {"name": "short way"}).status_code == 422
    for _ in range(2):
        assert "Proposed." in client.post(asked, {"name": " short  way"}, follow=True).text
    notice = Notice.objects.get()
    assert (notice.user, notice.kind) == (leader, proposals.KIND)
    assert notice.text == f"{player.name} proposes “short way” for bars 2 to 3 of Alder."
    long = client.post(asked, {"name": "é" * 80}, follow=True)
    assert "Proposed." in long.text
    for number in range(proposals.MOST_WAITING):
        full = client.post(asked, {"name": f"way {number}"}, follow=True)
    assert "names of yours wait to be read" in full.text
    assert all(len(row.url) <= proposals.LONGEST_ADDRESS for row in Notice.objects.all())
    client.force_login(alone)
    assert "Nobody leads an ensemble of yours" in client.post(asked, {"name": "x"}).text

    client.force_login(stranger)
    assert "short way" not in client.get(notice.url).text
    client.post(notice.url.replace("short", "other"), {"name": "other way"})
    assert not Notice.objects.filter(user=player).exists()
    client.force_login(leader)
    page = client.get(notice.url).text
    assert notice.text in page
    assert 'value="short way"' in page
    client.post(notice.url + "&where=home", {"name": "short way"})
    assert Idiom.objects.get(name="short way").made_by == leader
    told = Notice.objects.get(user=player)
    assert (told.kind, "“short way”" in told.text) == (proposals.GIVEN, True)
    assert client.get(told.url).status_code == 200
    assert client.get(notice.url.replace("by=", "by=x")).status_code == 200


def test_a_name_that_is_proposed_can_be_declined(world: tuple[Client, str, User]) -> None:
    client, url, _ = world
    ensemble = factories.make_ensemble()
    leader, player = factories.make_instructor(ensemble), factories.make_player(ensemble)
    client.force_login(player)
    client.post(url + "from=2&to=3&close=exact", {"name": "short way"})
    notice = Notice.objects.get()
    client.post(notice.url, {"act": "decline"})  # a player answers nothing
    client.force_login(leader)
    assert "Not this one" in client.get(notice.url).text
    after = client.post(notice.url, {"act": "decline", "notes": "We call it the turn."}, follow=True)
    assert "“short way” is not taken up" in after.text
    told = Notice.objects.get(user=player, kind=proposals.DECLINED)
    assert (
        told.text == f"“short way” for bars 2 to 3 of Alder was not taken up. {leader.name} says: We call it the turn."
    )
    notice.refresh_from_db()
    assert notice.seen
    assert not Idiom.objects.exists()
    forged = client.post(notice.url + "&to=4", {"act": "decline"}, follow=True)
    assert "Nothing waits here" in forged.text
    assert Notice.objects.filter(kind=proposals.DECLINED).count() == 1
