"""Charts checked bar by bar: whose word counts, when a chart is checked, what a settlement does."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from studio.models import Notice, User
from tests import factories
from tunes.checks import services
from tunes.checks.state import all_agreed, bar_states
from tunes.models import BarCheck, ChartRevision
from tunes.study import chart_of

CHART = "key: C major\n\nA:\n| <pickup 1> N.C. | Cmaj7 | Dm7 G7 | % | C6 |"


@pytest.fixture
def revision(db: None) -> ChartRevision:
    return factories.make_version(factories.make_tune(), CHART)


@pytest.fixture
def player(db: None) -> User:
    return factories.make_player(factories.make_ensemble())


@pytest.fixture
def leader(db: None) -> User:
    return factories.make_instructor(factories.make_ensemble())


def say(revision: ChartRevision, bar: int, by: User, state: str = "agreed", **more: Any) -> BarCheck:
    return services.say(revision=revision, bar=bar, by=by, state=state, recording=None, **more)


def test_a_chart_is_checked_when_every_bar_is(revision: ChartRevision, player: User) -> None:
    for bar in (1, 2, 3):
        say(revision, bar, player)
        revision.refresh_from_db()
        assert not revision.checked
    say(revision, 4, player)
    revision.refresh_from_db()
    assert revision.checked
    assert revision.checked_by == player


def test_one_dispute_lifts_it_and_its_withdrawal_restores_it(
    revision: ChartRevision, player: User, leader: User
) -> None:
    assert services.agree_to_rest(revision=revision, by=player, recording=None) == 4
    dispute = say(revision, 2, leader, "disputed", heard="Dm7 Db7")
    revision.refresh_from_db()
    assert not revision.checked
    services.withdraw(check=dispute)
    revision.refresh_from_db()
    assert revision.checked


def test_a_later_word_replaces_the_earlier_one(revision: ChartRevision, player: User) -> None:
    say(revision, 1, player, "disputed", note="doubtful")
    say(revision, 1, player)
    row = BarCheck.objects.get()
    assert (row.state, row.note) == ("agreed", "")


def test_a_settlement_makes_a_revision_and_carries_the_rest(
    revision: ChartRevision, player: User, leader: User
) -> None:
    services.agree_to_rest(revision=revision, by=player, recording=None)
    dispute = say(revision, 2, leader, "disputed", heard="Dm7 Db7", note="hear the bass")
    made = services.settle(check=dispute, by=leader, chords="Dm7 Db7", note="agreed in class")
    assert made.number == revision.number + 1
    bars = [[slot.text for slot in bar.slots] for bar in chart_of(made.text).bars]
    # Bar 3 was typed as a repeat of bar 2: only the disputed bar changes.
    assert bars == [["N.C."], ["Cmaj7"], ["Dm7", "Db7"], ["Dm7", "G7"], ["C6"]]
    assert made.checked  # the other bars were agreed, the settler answers for this one
    assert made.bar_checks.filter(carried=True).count() == 3
    dispute.refresh_from_db()
    assert dispute.settled_by == leader
    assert "settled. agreed in class" in made.source_note


def test_an_edit_keeps_the_words_on_bars_that_stay(revision: ChartRevision, player: User, leader: User) -> None:
    from tunes.services.charts import save_revision

    services.agree_to_rest(revision=revision, by=player, recording=None)
    edited = save_revision(version=revision.version, text=CHART.replace("C6", "Am7"), by=leader)
    assert services.carry_words(revision=edited, by=leader) == 3
    assert services.carry_words(revision=edited, by=leader) == 0
    edited.refresh_from_db()
    assert not edited.checked
    longer = save_revision(version=revision.version, text=CHART.replace("| C6 |", "| C6 | F |"), by=leader)
    assert services.carry_words(revision=longer, by=leader) == 0


def test_whoever_disputed_is_told(revision: ChartRevision, player: User, leader: User) -> None:
    dispute = say(revision, 2, player, "disputed", heard="Dm7 Db7")
    services.settle(check=dispute, by=leader, chords="Dm7 Db7", note="")
    notice = Notice.objects.get()
    assert notice.user == player
    assert "bar 2, which you disputed, is settled: the bar was changed." in notice.text


def test_the_chart_may_stand(revision: ChartRevision, player: User, leader: User) -> None:
    services.agree_to_rest(revision=revision, by=player, recording=None)
    dispute = say(revision, 2, leader, "disputed", note="doubtful")
    assert services.settle(check=dispute, by=leader, chords="", note="heard it again") == revision
    revision.refresh_from_db()
    assert revision.checked
    assert revision.version.revisions.count() == 1


@pytest.mark.parametrize("chords", ["H7", "C | F", "C F G", "%"])
def test_a_bar_that_cannot_be_read_settles_nothing(revision: ChartRevision, leader: User, chords: str) -> None:
    dispute = say(revision, 2, leader, "disputed", note="doubtful")
    with pytest.raises(services.CannotSettle):
        services.settle(check=dispute, by=leader, chords=chords, note="")
    dispute.refresh_from_db()
    assert dispute.settled is None


def test_an_old_revision_is_not_settled(revision: ChartRevision, leader: User) -> None:
    from tunes.services.charts import save_revision

    dispute = say(revision, 2, leader, "disputed", note="doubtful")
    save_revision(version=revision.version, text=CHART.replace("C6", "Cmaj7"), by=leader)
    with pytest.raises(services.CannotSettle, match="newer revision"):
        services.settle(check=dispute, by=leader, chords="Dm7 Db7", note="")
    client = Client()
    client.force_login(leader)
    assert b"No bar is disputed" in client.get(reverse("tunes:disputes")).content


def test_the_pages_of_a_dispute(revision: ChartRevision, player: User, leader: User) -> None:
    client = Client()
    client.force_login(player)
    address = reverse("tunes:check-bar", args=[revision.pk, 2])
    refused = client.post(address, {"state": "disputed"})
    assert refused.status_code == 422
    assert b"Say what you hear there" in refused.content
    refused = client.post(address, {"state": "nonsense", "heard": "typed with care"})
    assert b"typed with care" in refused.content
    assert client.post(address, {"state": "disputed", "heard": "Dm7 Db7"}).status_code == 302
    assert player.name.encode() in client.get(reverse("tunes:check", args=[revision.pk])).content
    client.force_login(leader)
    dispute = BarCheck.objects.get()
    settle = reverse("tunes:check-settle", args=[dispute.pk])
    wrong = client.post(settle, {"decision": "change", "chords": "H7"})
    assert wrong.status_code == 422
    assert client.post(settle, {"decision": "change", "chords": "Dm7 Db7"}).status_code == 302
    assert client.post(settle, {"decision": "keep"}).status_code == 404  # settled already


def test_the_pickup_is_not_checked(revision: ChartRevision, player: User) -> None:
    client = Client()
    client.force_login(player)
    assert client.post(reverse("tunes:check-bar", args=[revision.pk, 0]), {"state": "agreed"}).status_code == 404


words = st.lists(
    st.builds(
        lambda bar, state, settled: BarCheck(bar=bar, state=state, settled=settled if state == "disputed" else None),
        st.integers(0, 6), st.sampled_from(("agreed", "disputed")), st.none() | st.datetimes(),
    )
)  # fmt: skip


@given(words, st.sets(st.integers(0, 6)))
def test_states_follow_the_rule(rows: list[BarCheck], bars: set[int]) -> None:
    states = bar_states(rows, bars)
    for bar, state in states.items():
        mine = [row for row in rows if row.bar == bar]
        standing = [row for row in mine if row.state == "disputed" and not row.settled]
        assert (state.name == "disputed") == bool(standing)
        assert (state.name == "open") == (not mine)
    assert all_agreed(states) == (bool(bars) and all(state.name == "agreed" for state in states.values()))


def test_queries_do_not_grow(db: None) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for many in (2, 25):
        revision = factories.make_version(factories.make_tune(), CHART)
        ensemble = factories.make_ensemble()
        for _n in range(many):
            say(revision, 2, factories.make_player(ensemble), "disputed", note="x")
        client = Client()
        client.force_login(factories.make_instructor(ensemble))
        with CaptureQueriesContext(connection) as caught:
            assert client.get(reverse("tunes:check", args=[revision.pk])).status_code == 200
            assert client.get(reverse("tunes:disputes")).status_code == 200
        counts.append(len(caught))
    assert counts[0] == counts[1]
    assert counts[1] <= 30
