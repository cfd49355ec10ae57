"""The programme's own idioms: found across the repertoire, kept up to date, held back where a quiz is open."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio.models import User
from tests import factories
from tunes import access, repertoire
from tunes.harmony.analysis.pipeline import Function
from tunes.harmony.pitch.spelling import Key
from tunes.models import Idiom
from tunes.services import charts as services
from tunes.services import overrules

pytestmark = pytest.mark.django_db


@pytest.fixture
def player() -> User:
    return factories.make_player(factories.make_ensemble())


def found(pattern: str, **options: object) -> list[tuple[str, int, int, str]]:
    idiom = Idiom.objects.filter(pattern=pattern).first() or factories.make_idiom(pattern=pattern)
    rows = repertoire.described(repertoire.places(idiom, **options))
    return [(row.tune.title, row.first_bar, row.last_bar, " ".join(s.text for s in row.symbols if s)) for row in rows]


def test_places_are_found_in_every_key_with_their_bars_and_chords() -> None:
    factories.make_version(factories.make_tune("Alder"), "key: C\n| Cmaj7 | Dm7 G7 | Cmaj7 | % |")
    factories.make_version(factories.make_tune("Birch"), "key: Eb\n| Ebmaj7 | Fm7 | Bb7 | Ebmaj7 |")
    assert found("2min 5dom 1maj") == [
        ("Alder", 2, 4, "Dm7 G7 Cmaj7 Cmaj7"),
        ("Birch", 2, 4, "Fm7 Bb7 Ebmaj7"),
    ]


def test_a_place_may_run_round_to_the_top() -> None:
    factories.make_version(factories.make_tune("Alder"), "key: C\n| Cmaj7 | % | Dm7 | G7 |")
    (row,) = repertoire.described(repertoire.places(factories.make_idiom()))
    assert (row.first_bar, row.wraps, row.symbols[0].text) == (3, True, "Dm7")


def test_a_new_revision_and_an_overrule_are_seen_at_once() -> None:
    revision = factories.make_version(factories.make_tune("Alder"), "key: C\n| Cmaj7 | % | G7 | Cmaj7 |")
    assert found("2min 5dom 1maj") == []
    newer = services.save_revision(version=revision.version, text="key: C\n| Cmaj7 | Dm7 | G7 | Cmaj7 |", by=None)
    assert len(found("2min 5dom 1maj")) == 1
    label = overrules.overrule(
        revision=newer,
        event=1,
        key=Key.parse("C"),
        why="",
        by=factories.make_user(),
        function=Function("6", "m7", "tonic", "diatonic"),
    )
    assert found("2min 5dom 1maj") == []
    overrules.withdraw_overrule(row=label, by=factories.make_user())
    assert len(found("2min 5dom 1maj")) == 1


def test_substitutes_count_when_asked() -> None:
    factories.make_version(factories.make_tune("Alder"), "key: C\n| Cmaj7 | Dm7 | Db7 | Cmaj7 |")
    assert found("2min 5dom 1maj") == []
    assert len(found("2min 5dom 1maj", fold=True)) == 1


def test_only_agreed_charts_count() -> None:
    tune = factories.make_tune("Alder")
    factories.make_version(tune, "key: C\n| Cmaj7 | F | G7 | Cmaj7 |")
    factories.make_version(tune, "key: C\n| Cmaj7 | Dm7 | G7 | Cmaj7 |")
    assert found("2min 5dom 1maj") == []


def test_a_tune_with_an_open_quiz_is_left_out_and_that_is_said(
    client: Client, player: User, monkeypatch: pytest.MonkeyPatch
) -> None:
    tune = factories.make_tune("Alder")
    factories.make_version(tune)
    idiom = factories.make_idiom()
    monkeypatch.setattr(access, "_HOLDS", [lambda user, tunes: {tune.pk: access.Hold("Hand it in first.")}])
    client.force_login(player)
    page = client.get(reverse("tunes:idiom", args=[idiom.pk])).content.decode()
    assert "Alder" not in page
    assert "1 tune left out" in page
    assert "0 places in 0 tunes" in client.get(reverse("tunes:idioms")).content.decode()


@pytest.mark.parametrize("pattern", ["", "ii7 V7", "2min", "9dom 1", "(" * 40])
def test_a_pattern_that_cannot_be_read_is_refused_with_the_reason(client: Client, pattern: str) -> None:
    client.force_login(factories.make_director())
    response = client.post(reverse("tunes:idiom_new"), {"name": "ours", "pattern": pattern, "notes": "kept"})
    assert response.status_code == 422
    assert response.context["form"].errors["pattern"]
    assert "kept" in response.content.decode()
    assert not Idiom.objects.exists()


def test_a_pattern_stored_by_other_means_breaks_no_page(client: Client, player: User) -> None:
    idiom = factories.make_idiom(pattern="nonsense !")
    client.force_login(player)
    for address in (reverse("tunes:idioms"), reverse("tunes:idiom", args=[idiom.pk])):
        assert client.get(address).status_code == 200
