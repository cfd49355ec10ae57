"""What the review and feedback pages say: the second time, the bar as played, parts of a mark, the undo."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assessments.models import Attempt
from tests import factories

pytestmark = pytest.mark.django_db

# Printed bars 1-4 with two endings, then B at 5; as played the second ending is 6, B 7 (common practice, no source).
FOLDED = "key: F major\n[A]\n|: Fmaj7 | Gm7 C7 |1. Fmaj7 :|2. Fmaj7 |\n[B]\n| Bbmaj7 | C7 |"


class Cast:
    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble()
        self.leader = factories.make_instructor(self.ensemble, "Leo Leader")
        self.player = factories.make_player(self.ensemble, "Pia Player", instrument="piano")
        self.step = factories.make_assignment(
            self.ensemble,
            by=self.leader,
            ask_repeats=True,
            strictness="quality",
            revision=factories.make_chart_revision("Harbour Steps", text=FOLDED),
        ).steps.get()

    def handed_in(self, **answers: str) -> Attempt:
        return factories.make_attempt(
            self.step,
            self.player,
            answers={name.replace("_", ":"): text for name, text in answers.items()},
            hand_in=True,
        )

    def see(self, user: Any, route: str, pk: int, query: str = "") -> str:
        client = Client()
        client.force_login(user)
        return client.get(reverse(route, args=[pk]) + query).content.decode()


@pytest.fixture
def cast() -> Cast:
    return Cast()


def test_the_ensemble_sheet_names_the_second_time_and_the_bar_as_played(cast: Cast) -> None:
    cast.handed_in(function_0="I7")
    page = cast.see(cast.leader, "work:ensemble-sheet", cast.step.pk, "?order=form")
    assert page.count("Bar 5 (written 2)") == 2  # Gm7 C7 again; the Fmaj7 of bar 1 is held over from the first ending
    assert "Bar 7 (written 5)" in page  # the first bar of B, written as 5
    assert '1 of 1 <span class="quiet small">(1 in part)</span>' in page  # the right number, another quality


def test_the_review_sheet_and_the_feedback_name_them_too(cast: Cast) -> None:
    done = cast.handed_in(function_0="Imaj7")
    for page in (
        cast.see(cast.leader, "work:sheet", done.pk, "?view=list"),
        cast.see(cast.player, "work:attempt", done.pk),
    ):
        assert "Bar 2, and 5 the second time" in page
        assert page.count("bar 5 (written 2)") >= 2
        assert "Bar 7 (written 5)" in page


def test_feedback_says_nothing_twice_and_what_the_points_are_out_of(cast: Cast) -> None:
    done = cast.handed_in(function_0="Imaj7", function_1="iiø7")
    page = cast.see(cast.player, "work:attempt", done.pk)
    for doubled in ("Exactly so.", "That is it.", "Left open.", "This one was left open"):
        assert doubled not in page
    assert page.count("1 of 1<") == 1
    assert "0.5 of 1<" in page
    assert "½" not in page
    assert "Only what was missed" in page


@pytest.mark.parametrize("act", ["accept", "return"])
def test_what_was_just_done_can_be_taken_back_by_who_did_it(cast: Cast, act: str) -> None:
    done = cast.handed_in()
    client = Client()
    client.force_login(cast.leader)
    answer = client.post(reverse("work:outcome", args=[done.pk]), {"act": act, "version": done.version, "then": "next"})
    assert answer.status_code == 302
    page = client.get(answer["Location"]).content.decode()
    assert "data-undo" in page
    other = factories.make_instructor(cast.ensemble)
    assert "data-undo" not in cast.see(other, "work:sheet", done.pk, f"?done={done.pk}")
    done.refresh_from_db()
    client.post(reverse("work:outcome", args=[done.pk]), {"act": "reopen", "version": done.version})
    done.refresh_from_db()
    assert done.status == Attempt.Status.HANDED_IN
    assert "data-undo" not in client.get(answer["Location"]).content.decode()


@pytest.mark.parametrize(("act", "status"), [("accept", "reviewed"), ("return", "returned")])
def test_a_comment_and_a_word_on_the_sheet_are_one_press(act: str, status: str, cast: Cast) -> None:
    done = cast.handed_in(function_0="Imaj7")
    client = Client()
    client.force_login(cast.leader)
    data = {"text": "Hear the bass.", "token": str(uuid.uuid4()), "bar": "1", "act": act, "then": "next"}
    stale = client.post(reverse("work:comment", args=[done.pk]), data | {"version": done.version + 1})
    assert stale.status_code == 409
    went = client.post(reverse("work:comment", args=[done.pk]), data | {"version": done.version})
    assert "done=" in went.url
    done.refresh_from_db()
    assert (done.status, [c.text for c in done.comments.all()]) == (status, ["Hear the bass."])


def test_sheets_accepted_together_are_taken_back_together(cast: Cast) -> None:
    other = factories.make_player(cast.ensemble, "Oda Other", instrument="piano")
    sheets = [cast.handed_in(), factories.make_attempt(cast.step, other, hand_in=True)]
    client = Client()
    client.force_login(cast.leader)
    data = {"attempts": [sheet.pk for sheet in sheets], "next": reverse("work:queue") + "?state=waiting"}
    answer = client.post(reverse("work:accept-many"), data)
    assert [Attempt.objects.get(pk=sheet.pk).status for sheet in sheets] == ["reviewed", "reviewed"]
    assert "state=waiting&done=" in answer["Location"]
    page = client.get(answer["Location"]).content.decode()
    assert "Reviewed: 2." in page
    assert page.count('type="hidden" name="attempts"') == 2
    client.post(reverse("work:accept-many"), {**data, "act": "reopen"})
    assert [Attempt.objects.get(pk=sheet.pk).status for sheet in sheets] == ["handed-in", "handed-in"]
    assert "data-undo" not in client.get(answer["Location"]).content.decode()


@pytest.mark.parametrize("query", ["?done=,,", "?done=999999", "?done=x", "?done=" + "9" * 40, "?done="])
def test_an_undo_of_nothing_is_no_error(cast: Cast, query: str) -> None:
    assert "data-undo" not in cast.see(cast.leader, "work:sheet", cast.handed_in().pk, query)


@pytest.mark.parametrize(
    ("typed", "wrong", "says"),
    [
        ({"points": "5", "reason": "Said aloud"}, "points", "A question earns from 0 to 1"),
        ({"points": "", "reason": "Said aloud"}, "points", "Type a number from 0 to 1"),
        ({"points": "half", "reason": "Said aloud"}, "points", "Type a number from 0 to 1"),
        ({"points": "0.5", "reason": ""}, "reason", "Say why: the player reads it."),
    ],
)
def test_another_mark_that_cannot_be_taken_is_answered_at_its_field(
    cast: Cast,
    typed: dict[str, str],
    wrong: str,
    says: str,
) -> None:
    done = cast.handed_in()
    client = Client()
    client.force_login(cast.leader)
    answer = client.post(
        reverse("work:mark", args=[done.pk]), {"version": done.version, "question": "function:0", **typed}
    )
    page = answer.content.decode()
    assert answer.status_code == 422
    assert says in page
    field = (
        page[page.index(f'name="{wrong}"') :].split(">", 1)[0]
        if wrong == "reason"
        else page[: page.index('aria-invalid="true"')].rsplit("<input", 1)[1]
    )
    assert wrong in field
    assert f'value="{typed["reason"]}"' in page
