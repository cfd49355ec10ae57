"""A key that was overruled after issue: who is told, whose mark would change, what one press writes; answers accepted for
everyone who wrote them. The rules are our own."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assessments.models import AcceptedAnswer, Attempt, Evidence, KeyChange, Mark, MarkOverride, Quiz
from assessments.selectors.accepted import acceptance
from assessments.selectors.ledger import standing_rows
from assessments.selectors.old_keys import remarking, steps_with_old_keys
from assessments.selectors.quiz import bars_of_step
from assessments.selectors.review import ensemble_sheet
from assessments.services import review
from assessments.services.accepted import accept_answer, take_back
from assessments.services.assign import Stale
from assessments.services.mark_again import mark_again
from studio.models import Notice, Term
from tests import factories
from tunes.harmony.pitch.spelling import Key
from tunes.heard import read_function
from tunes.models import ChartRevision
from tunes.selectors import revisions_for_study
from tunes.services import overrules
from tunes.study import study_chart

pytestmark = pytest.mark.django_db
# Bar 2, A7: 5 of 6, or 5 of a D minor that has a key of its own. Bars 1 and 9 hold the same chord, heard alike.
CHART = "key: F major\n\n[A]\n| Fmaj7 | Em7b5 A7 | Dm7 G7 | Cm7 F7 |\n| Bbmaj7 | Bbm7 Eb7 | Gm7 C7 | F6 |\n[B]\n| Fmaj7 | Dm7 | Gm7 | C7 |"
TURNED = "function:2"


class Cast:
    """An ensemble with three players and its quiz on functions."""

    def __init__(self, *, overruled: bool = False, **fields: Any) -> None:
        self.ensemble = factories.make_ensemble()
        self.leader = factories.make_instructor(self.ensemble, "Leo")
        self.players = [factories.make_player(self.ensemble, name) for name in ("Ada", "Bo", "Cy")]
        revision = factories.make_chart_revision("Long Field", text=CHART)
        self.pk = revision.pk
        self.row = self.overrule() if overruled else None
        self.made = factories.make_assignment(self.ensemble, by=self.leader, revision=revision, title="Field", **fields)
        self.step = self.made.steps.get()

    def hand_in(self, *answers: str, question: str = TURNED) -> list[Attempt]:
        return [
            factories.make_attempt(self.step, player, answers={question: text}, hand_in=True)
            for player, text in zip(self.players, answers, strict=False)
        ]

    def overrule(self, answer: str = "5", key: str = "Dm", event: int = 2) -> Any:
        revision = revisions_for_study().get(pk=self.pk)
        study = study_chart(revision)
        heard, function = read_function(
            answer, Key.parse(key), study.events[event].symbol, study.computed.readings[event]
        )
        return overrules.overrule(
            revision=revision, event=event, key=heard, function=function, why="so", by=self.leader
        )

    def client(self, who: Any = None) -> Client:
        client = Client()
        client.force_login(who or self.leader)
        return client

    def counts(self, attempt: Attempt) -> tuple[float, int]:
        """The points of a sheet, and the percentage that stands for it in the ledger."""
        attempt.refresh_from_db()
        row = standing_rows(attempt=attempt).first()
        return attempt.points or 0.0, row.percent if row else -1


def answer_of(cast: Cast, event: int = 2) -> str:
    """The numeral that the stored key holds for an event."""
    questions = Quiz.objects.get(step=cast.step).questions
    return str(next(q for q in questions if q["id"] == f"function:{event}")["key"]["expected"]["numeral"])


def test_marking_again_gives_the_new_marks_beside_the_old_ones() -> None:
    cast = Cast()
    old = answer_of(cast)
    ada, bo, cy = cast.hand_in(old, "Dm: V7", "nonsense")
    before = [cast.counts(one) for one in (ada, bo, cy)]
    assert not remarking(cast.step).changed
    cast.overrule()
    found = remarking(cast.step)
    assert TURNED in {q["id"] for q in found.changed}
    assert ("Bo", True) in [(m.attempt.player.name, m.up) for m in found.marks if m.question["id"] == TURNED]
    assert [cast.counts(one) for one in (ada, bo, cy)] == before  # nothing is written by looking
    changed = mark_again(step=cast.step, by=cast.leader, stamp=found.stamp)
    assert changed == len(found.marks)
    after = [cast.counts(one) for one in (ada, bo, cy)]
    assert after[1] > before[1]
    assert after[2] == before[2]
    row = MarkOverride.objects.get(attempt=bo, question=TURNED)
    assert (row.origin, row.by) == ("key", cast.leader)
    assert Mark.objects.get(attempt=bo, question=TURNED).points < row.points  # the old mark stays
    assert TURNED in KeyChange.objects.get().before
    assert not remarking(cast.step).changed
    assert steps_with_old_keys(cast.leader, [cast.made.revision_id]) == []
    assert Evidence.objects.filter(attempt=bo, withdraws__isnull=False).count() == 1
    late = factories.make_attempt(
        cast.step, factories.make_player(cast.ensemble, "Di"), answers={TURNED: "Dm: V7"}, hand_in=True
    )
    assert Mark.objects.get(attempt=late, question=TURNED).points == row.points


@pytest.mark.parametrize("only_up", [True, False])
def test_only_marks_that_go_up_when_asked_and_a_persons_mark_stays(only_up: bool) -> None:
    cast = Cast(overruled=True)
    ada, cy = cast.hand_in("Dm: V7", "Dm: V7")
    review.override(
        attempt_id=cy.pk, by=cast.leader, version=cy.version, question=TURNED, points=0.25, reason="Half heard"
    )
    before = cast.counts(ada)
    overrules.withdraw_overrule(
        row=cast.row, by=cast.leader
    )  # what was computed counts again: another key, and another mark
    found = remarking(cast.step)
    assert [(m.attempt.player.name, m.up) for m in found.marks] == [("Ada", False)]
    assert found.kept == 1
    mark_again(step=cast.step, by=cast.leader, stamp=found.stamp, only_up=only_up)
    assert (cast.counts(ada) == before) is only_up
    assert MarkOverride.objects.get(attempt=cy, question=TURNED).points == 0.25


def test_what_changed_since_it_was_read_is_read_again() -> None:
    cast = Cast()
    cast.hand_in("Dm: V7")
    cast.overrule()
    stamp = remarking(cast.step).stamp
    factories.make_attempt(cast.step, cast.players[1], answers={TURNED: "Dm: V7"}, hand_in=True)
    with pytest.raises(Stale):
        mark_again(step=cast.step, by=cast.leader, stamp=stamp)
    page = cast.client().post(reverse("work:mark-again", args=[cast.step.pk]), {"stamp": stamp})
    assert (page.status_code, KeyChange.objects.count()) == (409, 0)
    assert "Bo" in page.content.decode()


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda c: None, True),
        (lambda c: type(c.made).objects.filter(pk=c.made.pk).update(closed=timezone.now()), False),
        (lambda c: Term.objects.update(starts="2001-01-01", ends="2001-02-01"), False),
        (lambda c: overrules.withdraw_overrule(row=c.row, by=c.leader), False),
        (lambda c: Quiz.objects.update(overrules=None, issued=timezone.now() - timedelta(hours=1)), True),
        (lambda c: Quiz.objects.update(overrules=None, issued=timezone.now() + timedelta(hours=1)), False),
    ],
    ids=["running", "closed", "term ended", "withdrawn", "issued before it was kept", "issued after the overrule"],
)
def test_who_overrules_is_told_of_running_assignments_with_the_old_key(change: Any, told: bool) -> None:
    cast = Cast()
    cast.row = cast.overrule()
    change(cast)
    panel = cast.client().get(reverse("tunes:event", args=[cast.made.revision_id, 2])).content.decode()
    assert (reverse("work:mark-again", args=[cast.step.pk]) in panel) is told
    page = cast.client().get(reverse("work:assignment", args=[cast.made.pk])).content.decode()
    assert ("See whose mark would change" in page) is told
    stranger = factories.make_instructor(factories.make_ensemble())
    assert steps_with_old_keys(stranger, [cast.made.revision_id]) == []


def test_an_overrule_that_changes_no_key_asks_nothing() -> None:
    cast = Cast()
    cast.overrule(answer_of(cast), "F")
    found = remarking(cast.step)
    assert found.marks == ()


def test_the_pages_say_whom_and_where_and_one_press_writes() -> None:
    cast = Cast()
    _, bo, _ = cast.hand_in(answer_of(cast), "Dm: V7", "nonsense")
    review.accept(attempt_id=bo.pk, by=cast.leader, version=bo.version)
    cast.overrule()
    client = cast.client()
    page = client.get(reverse("work:mark-again", args=[cast.step.pk]))
    body = page.content.decode()
    assert all(word in body for word in ("Bo", "Bar 2"))
    said = client.post(
        reverse("work:mark-again", args=[cast.step.pk]), {"stamp": page.context["found"].stamp}, follow=True
    )
    assert "Marked again" in said.content.decode()
    sheet = client.get(reverse("work:sheet", args=[bo.pk])).content.decode()
    assert "Marked again by Leo: " in sheet
    assert "Marked again by Leo" in cast.client(bo.player).get(reverse("work:attempt", args=[bo.pk])).content.decode()
    assert Notice.objects.filter(user=bo.player, text__startswith="A mark was changed").count() == 1
    assert mail.outbox == []


# --- accepting an answer for everyone


def missed(cast: Cast, question: str) -> int:
    rows = ensemble_sheet(cast.step, Quiz.objects.get(step=cast.step).questions, bars_of_step(cast.step))
    return next(row.missed for row in rows if row.question["id"] == question)


@pytest.mark.parametrize("everywhere", [False, True])
def test_an_answer_is_accepted_here_or_wherever_the_same_stands(everywhere: bool) -> None:
    cast = Cast()
    for player in cast.players[:2]:
        factories.make_attempt(
            cast.step, player, answers={"function:0": "the start", "function:13": "the start"}, hand_in=True
        )
    other = factories.make_attempt(
        cast.step, cast.players[2], answers={"function:0": "the  start ", "function:13": "Imaj7"}, hand_in=True
    )
    found = acceptance(cast.step, "function:0", "the start")
    assert found is not None
    assert [q["id"] for q in found.same] == ["function:0", "function:13"]
    assert len(found.whose(False)) == 3  # blanks do not make another answer
    review.override(
        attempt_id=other.pk, by=cast.leader, version=other.version, question="function:0", points=0.5, reason="half"
    )
    count = accept_answer(
        step=cast.step,
        question="function:0",
        answer="the start",
        points=1,
        reason="Said so in class",
        by=cast.leader,
        everywhere=everywhere,
    )
    assert count == (4 if everywhere else 2)
    assert MarkOverride.objects.filter(origin="accepted").count() == count
    assert missed(cast, "function:0") == 1  # the one that a person had decided
    assert missed(cast, "function:13") == (0 if everywhere else 2)
    assert (
        accept_answer(
            step=cast.step,
            question="function:0",
            answer="the start",
            points=1,
            reason="again",
            by=cast.leader,
            everywhere=everywhere,
        )
        == 0
    )


def test_who_writes_it_later_gets_the_same_and_another_ensemble_does_not() -> None:
    cast = Cast()
    cast.hand_in("from the side")
    accept_answer(
        step=cast.step,
        question=TURNED,
        answer="from the side",
        points=0.75,
        reason="So we call it",
        by=cast.leader,
        everywhere=False,
    )
    late = factories.make_attempt(cast.step, cast.players[1], answers={TURNED: "from  the side"}, hand_in=True)
    row = MarkOverride.objects.get(attempt=late)
    assert (row.points, row.by, row.origin) == (0.75, cast.leader, "accepted")
    assert cast.counts(late)[0] == 0.75
    ensemble = factories.make_ensemble()
    made = factories.make_assignment(ensemble, revision=ChartRevision.objects.get(pk=cast.made.revision_id))
    apart = factories.make_attempt(
        made.steps.get(), factories.make_player(ensemble), answers={TURNED: "from the side"}, hand_in=True
    )
    assert apart.points == 0
    assert AcceptedAnswer.objects.count() == 1


def test_the_sheet_of_the_ensemble_offers_it_and_the_page_says_whom() -> None:
    cast = Cast()
    cast.hand_in("by the side", "by the side")
    client = cast.client()
    sheet = client.get(reverse("work:ensemble-sheet", args=[cast.step.pk])).content.decode()
    assert (
        f"{reverse('work:accept-answer', args=[cast.step.pk])}?question=function%3A2&amp;answer=by%20the%20side"
        in sheet
    )
    address = reverse("work:accept-answer", args=[cast.step.pk])
    page = client.get(address, {"question": TURNED, "answer": "by the side"}).content.decode()
    assert all(word in page for word in ("Ada", "Bo", "bar 2"))
    body = {"question": TURNED, "answer": "by the side", "where": "here", "points": "1", "reason": ""}
    assert client.post(address, body).status_code == 422
    assert client.post(address, body | {"reason": "Heard so"}).status_code == 302
    assert missed(cast, TURNED) == 0
    assert client.get(address, {"question": "function:999", "answer": "x"}).status_code == 404
    assert client.get(address, {"question": TURNED, "answer": " "}).status_code == 404


@pytest.mark.parametrize("everywhere", [False, True])
def test_an_accepted_answer_is_taken_back_and_the_marks_that_stood_before_come_back(everywhere: bool) -> None:
    """Common practice, no source: what a teacher takes back leaves the marks of the key, and the record of both."""
    cast = Cast()
    answers = {"function:0": "the start", "function:13": "the start", TURNED: "2"}
    sheets = [factories.make_attempt(cast.step, player, answers=answers, hand_in=True) for player in cast.players[:2]]
    before = [(sheet.points, sheet.percent) for sheet in sheets]
    accept_answer(
        step=cast.step, question="function:0", answer="the start", points=1, reason="So", by=cast.leader,
        everywhere=everywhere,
    )  # fmt: skip
    late = factories.make_attempt(cast.step, cast.players[2], answers={"function:0": "the start"}, hand_in=True)
    decided = Attempt.objects.get(pk=sheets[1].pk)
    review.override(
        attempt_id=decided.pk, by=cast.leader, version=decided.version, question="function:0", points=0.5, reason="half"
    )
    client, accepted = cast.client(), AcceptedAnswer.objects.first()
    assert accepted is not None
    back = reverse("work:accepted-back", args=[accepted.pk])
    assert back in client.get(reverse("work:ensemble-sheet", args=[cast.step.pk])).content.decode()
    page = client.post(back, follow=True).content.decode()
    changed = 4 if everywhere else 2
    assert f"{changed} marks changed back" in page
    assert "Accepted for everyone" not in page
    assert [(a.points, a.percent) for a in Attempt.objects.filter(pk=sheets[0].pk)] == before[:1]
    assert Attempt.objects.get(pk=late.pk).points == 0
    assert Attempt.objects.get(pk=decided.pk).points == pytest.approx(
        before[1][0] + 0.5
    )  # a person decided since: it stays
    kept = MarkOverride.objects.filter(attempt=sheets[0], question="function:0").values_list("origin", "points")
    assert list(kept) == [("accepted", 1), ("back", 0)]
    facts = [row.percent for row in standing_rows(attempt__in=[sheets[0]])]
    assert facts == [before[0][1]]
    assert "accepts this answer no more" in client.get(reverse("work:sheet", args=[sheets[0].pk])).content.decode()
    again = factories.make_attempt(cast.step, cast.players[2], answers={"function:0": "the start"}, hand_in=True)
    assert again.points == 0
    assert take_back(accepted=accepted, by=cast.leader) == 0
    found = acceptance(cast.step, "function:0", "the start")
    assert found is not None
    assert [row.attempt for row in found.whose(False)].count(sheets[0]) == 1  # it can be accepted again


def test_the_pages_of_many_marks_are_paged_and_ask_as_often_for_forty_as_for_one(
    django_assert_max_num_queries: Any,
) -> None:
    cast = Cast()
    answers = {"function:0": "the start", "function:13": "the start"}
    for _ in range(20):
        player = factories.make_player(cast.made.ensemble)
        factories.make_attempt(cast.step, player, answers=answers, hand_in=True)
    client, address = cast.client(), reverse("work:accept-answer", args=[cast.step.pk])
    query = {"question": "function:0", "answer": "the start"}
    with django_assert_max_num_queries(15):
        page = client.get(address, query)
    assert (len(page.context["page"]), page.context["page"].paginator.count) == (25, 40)
    with django_assert_max_num_queries(15):
        second = client.get(address, query | {"page": "2"}, headers={"HX-Request": "true"})
    assert "<h1" not in second.content.decode()
    assert len(second.context["page"]) == 15
    body = query | {"where": "same", "points": "1", "reason": "So"}
    with django_assert_max_num_queries(40):
        assert client.post(address, body).status_code == 302
    with django_assert_max_num_queries(40):
        client.post(reverse("work:accepted-back", args=[AcceptedAnswer.objects.first().pk]))  # type: ignore[union-attr]
    with django_assert_max_num_queries(15):
        client.get(reverse("work:mark-again", args=[cast.step.pk]))
