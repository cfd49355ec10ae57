"""Keeping the top of the form: what is played, what is to be tapped, how taps are scored."""

from __future__ import annotations

import json

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from tests import factories
from tunes.harmony.charts import parse_chart
from tunes.models import EarResult
from tunes.top_of_form.plan import make_plan
from tunes.top_of_form.score import Place, advice, next_tempo, score_taps

AABA = "key: C major\n\nA:\n| <pickup 1> N.C. |: Cmaj7 Am7 | Dm7 G7 :|\nB:\n| E7 | A7 |\nA:\n| Cmaj7 | G7 |"


def chart(text: str = AABA):  # type: ignore[no-untyped-def]
    found = parse_chart(text).chart
    assert found is not None
    return found


def test_tops_and_bridges_of_two_choruses() -> None:
    plan = make_plan(chart(), 2, "none")
    assert plan.chorus_beats == 32
    assert [(p.beat, p.kind) for p in plan.places] == [
        (0, "top"), (16, "bridge"), (32, "top"), (48, "bridge"), (64, "top"),
    ]  # fmt: skip
    assert plan.silences == ()


def test_beats_are_quarter_notes_in_every_metre() -> None:
    plan = make_plan(chart("key: C major\nmetre: 6/8\n| C | F | <3/4> G | C |"), 1, "none")
    assert plan.bars == (0, 3, 6, 9)
    assert plan.chorus_beats == 12


def test_silences_grow_and_never_cover_a_whole_chorus() -> None:
    blues = chart("key: F major\n| F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | F7 | C7 | Bb7 | F7 | C7 |")
    plan = make_plan(blues, 5, "growing")
    lengths = [end - start for start, end in plan.silences]
    assert lengths == [8, 16, 24, 24]
    assert all(place.silent is False for place in plan.places if place.beat == 0)


def test_what_the_band_plays() -> None:
    """Bass on the root or the slash bass, E1 to D sharp 2; shells are 3rd and 7th, E3 to D sharp 4."""
    plan = make_plan(chart("key: C major\n| Cmaj7 | G7/B | Csus4 | N.C. |"), 1, "none")
    assert [row[2] for row in plan.chords] == [36, 35, 36]
    assert [row[3] for row in plan.chords] == [(52, 59), (53, 59), (53, 55)]


@pytest.mark.parametrize(
    ("taps", "verdicts", "stray"),
    [
        ([0.1, 31.8], ["together", "together"], 0),
        ([0.8, 33.0], ["late", "late"], 0),
        ([-0.7, 30.5], ["early", "early, 1.5 beats"], 0),
        ([0.0], ["together", "missed"], 0),
        ([0.0, 16.0, 32.0], ["together", "together"], 1),
        ([], ["missed", "missed"], 0),
        ([0.0, 0.3, 32.0], ["together", "together"], 1),
    ],
)
def test_verdicts(taps: list[float], verdicts: list[str], stray: int) -> None:
    result = score_taps([Place(0, "top", 1), Place(32, "top", 2)], taps)
    assert [tapped.verdict for tapped in result.places] == verdicts
    assert result.stray == stray


def test_a_run_that_held_raises_the_tempo() -> None:
    places = [Place(0, "top", 1), Place(32, "top", 2)]
    assert score_taps(places, [0.9, 31.2]).held
    assert not score_taps(places, [0.0, 16.0, 32.0]).held
    assert not score_taps([], []).held
    assert (next_tempo(100, True, 180), next_tempo(178, True, 180), next_tempo(200, True, 180)) == (106, 180, 200)
    assert (next_tempo(100, False, 180), next_tempo(40, False, 180)) == (96, 40)


@pytest.mark.parametrize(
    ("tempo", "held", "top", "said"),
    [
        (100, True, 180, "It held: try 106 beats a minute."),
        (200, True, 180, "It held, as fast as this tune goes."),
        (180, True, 180, "It held, as fast as this tune goes."),
        (100, False, 180, "Next time 96 beats a minute."),
        (40, False, 180, ""),
    ],
)
def test_a_tempo_is_advised_only_where_it_is_another(tempo: int, held: bool, top: int, said: str) -> None:
    assert advice(tempo, held, next_tempo(tempo, held, top)) == said


@given(st.lists(st.floats(-10, 200), max_size=20), st.lists(st.integers(0, 12), max_size=6, unique=True))
def test_scores_are_shares_and_every_tap_is_used_once(taps: list[float], tops: list[int]) -> None:
    places = [Place(16.0 * top, "top", top + 1) for top in sorted(tops)]
    result = score_taps(places, taps)
    matched = sum(1 for tapped in result.places if tapped.off is not None)
    assert matched + result.stray == len(taps)
    assert 0 <= result.score <= 1


@given(st.lists(st.floats(-0.4, 0.4), min_size=3, max_size=3))
def test_tapping_together_is_worth_everything(offs: list[float]) -> None:
    places = [Place(16.0 * n, "top", n + 1) for n in range(3)]
    assert score_taps(places, [place.beat + off for place, off in zip(places, offs, strict=True)]).score == 1


def test_a_run_is_kept_as_evidence(db: None) -> None:
    tune = factories.make_tune()
    factories.make_version(tune, AABA)
    player = factories.make_player(factories.make_ensemble())
    client = Client()
    client.force_login(player)
    address = reverse("tunes:top-of-form-finish", args=[tune.pk])
    taps = json.dumps([0, 16, 32, 48.2, 64])
    answer = client.post(address, {"taps": taps, "choruses": 2, "tempo": 120, "silence": "growing"}).json()
    assert (answer["score"], answer["held"], answer["next_tempo"]) == (100, True, 126)
    assert [place["silent"] for place in answer["places"]] == [False, False, False, False, False]
    result = EarResult.objects.get()
    assert (result.player, result.kind, result.score, result.detail["tempo"]) == (player, "top-of-form", 1.0, 120)
    for junk in ("", "{", "null", "5", '["a"]', "[1e999]", json.dumps([1] * 500), "[" * 9000):
        assert client.post(address, {"taps": junk}).status_code == 422
    assert EarResult.objects.count() == 1
    assert (
        client.get(reverse("tunes:top-of-form", args=[tune.pk]), {"tempo": "abc", "choruses": "99"}).status_code == 200
    )
