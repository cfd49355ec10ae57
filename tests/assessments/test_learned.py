"""When a tune counts as learned. The rule is the programme's own: common practice, no source."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assessments.learned import Fact, Requirement, standing

ASKED = (Requirement("listening", 0, 2), Requirement("function", 80), Requirement("sign-off"))


def at(day: int) -> datetime:
    return datetime(2030, 3, day, tzinfo=UTC)


def fact(kind: str, day: int, percent: int = 100) -> Fact:
    return Fact(kind, percent, at(day), f"{kind} on {day}", "An instructor")


FULL = [fact("listening", 1), fact("listening", 2), fact("function", 3, 85), fact("sign-off", 4)]


@pytest.mark.parametrize(
    ("facts", "learned", "missing", "day"),
    [
        (FULL, True, (), 4),
        (FULL[:-1], False, ("sign-off",), None),  # never without a signature
        ([*FULL[:2], FULL[3]], False, ("function",), None),  # never on a signature alone
        ([FULL[0], *FULL[2:]], False, ("listening",), None),  # heard once, twice asked
        ([*FULL[:2], fact("function", 3, 79), FULL[3]], False, ("function",), None),
        ([*FULL[:2], fact("function", 3, 80), FULL[3]], True, (), 4),  # the mark itself passes
        ([*FULL[:2], FULL[3], fact("function", 9, 80)], True, (), 9),  # the last missing piece gives the date
        ([*FULL, fact("function", 20, 100)], True, (), 4),  # a later, better go does not move it
        ([], False, ("listening", "function", "sign-off"), None),
    ],
)
def test_standing(facts: list[Fact], learned: bool, missing: tuple[str, ...], day: int | None) -> None:
    found = standing(facts, ASKED)
    assert (found.learned, found.missing) == (learned, missing)
    assert found.learned_on == (at(day) if day else None)


def test_sign_off_is_asked_even_when_the_programme_lists_nothing() -> None:
    assert standing([], ()).missing == ("sign-off",)
    assert standing([fact("sign-off", 1)], ()).learned


def test_the_ledger_says_by_whom_and_on_what_evidence() -> None:
    found = standing(FULL, ASKED)
    assert (found.signed_by, found.signed_on, found.signed_for) == ("An instructor", at(4), "sign-off on 4")


FACTS = st.builds(
    fact, st.sampled_from(["listening", "function", "sign-off", "form"]), st.integers(1, 28), st.integers(0, 100)
)


@given(st.lists(FACTS, max_size=12), st.randoms())
def test_order_does_not_matter_and_more_evidence_never_unlearns(facts: list[Fact], random: object) -> None:
    mixed = list(facts)
    random.shuffle(mixed)
    assert standing(mixed, ASKED).learned == standing(facts, ASKED).learned
    if standing(facts[:-1], ASKED).learned:
        assert standing(facts, ASKED).learned
