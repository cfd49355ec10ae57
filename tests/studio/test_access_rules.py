"""The predicates that every app asks."""

from __future__ import annotations

import datetime as dt

import pytest
from django.contrib.auth.models import AnonymousUser
from django.utils import timezone

from studio import access
from studio.security import Argon2Hasher
from tests import factories

pytestmark = pytest.mark.django_db


def test_the_table_of_predicates() -> None:
    ours, theirs = factories.make_ensemble(), factories.make_ensemble()
    player, leader, director = factories.make_player(ours), factories.make_instructor(ours), factories.make_director()
    both = factories.make_instructor(theirs, user=factories.make_player(ours))
    nobody = AnonymousUser()
    today = timezone.localdate()
    past = factories.make_term(starts=today - dt.timedelta(days=90), ends=today - dt.timedelta(days=1))
    former = factories.make_instructor(factories.make_ensemble(term=past))
    coming = factories.make_term(starts=today + dt.timedelta(days=9), ends=today + dt.timedelta(days=99))
    next_one = factories.make_instructor(factories.make_ensemble(term=coming))
    #        who       leads ours  plays ours  leads theirs  edits tunes  instructor
    table = [
        (player, False, True, False, False, False),
        (leader, True, False, False, True, True),
        (both, False, True, True, True, True),
        (director, True, False, True, True, True),
        (former, False, False, False, False, True),
        (next_one, False, False, False, True, True),
        (nobody, False, False, False, False, False),
    ]
    for who, *expected in table:
        assert [
            access.leads(who, ours),
            access.plays_in(who, ours),
            access.leads(who, theirs),
            access.can_edit_repertoire(who),
            access.is_instructor(who),
        ] == expected, who


def test_lists_of_ensembles() -> None:
    ours, theirs = factories.make_ensemble("Ours"), factories.make_ensemble("Theirs")
    both = factories.make_instructor(theirs, user=factories.make_player(ours))
    assert list(access.ensembles_led(both)) == [theirs]
    assert list(access.ensembles_played(both)) == [ours]
    assert set(access.ensembles_led(factories.make_director())) == {ours, theirs}


def test_chairs_are_read_once_and_again_after_a_change(django_assert_num_queries) -> None:  # type: ignore[no-untyped-def]
    ours, theirs = factories.make_ensemble(), factories.make_ensemble()
    player = factories.make_player(ours)
    with django_assert_num_queries(1):
        assert access.plays_in(player, ours)
        assert not access.leads(player, ours)
    factories.make_player(theirs, user=player)
    assert access.plays_in(player, theirs)


def test_the_real_password_hasher() -> None:
    """19 MiB, two passes, one lane: OWASP ASVS 5.0, appendix C."""
    hashed = Argon2Hasher().encode("three plain words", "saltsaltsalt")
    assert "$m=19456,t=2,p=1$" in hashed
    assert Argon2Hasher().verify("three plain words", hashed)
