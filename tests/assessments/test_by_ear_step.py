"""Changes by ear as a step of an assignment: asked, kept closed, marked, reviewed, recorded.

When charts are closed is our own rule (common practice in class, no source). What chords earn is tested beside the
comparer, in `tests/drills/test_marking_notes.py`.
"""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.core.exceptions import PermissionDenied
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from api.scopes import SCOPE_IDS
from api.tokens import make_token
from assessments.kinds import quiz_kinds
from assessments.models import Assignment, Attempt, Evidence, Mark, ProgrammeRequirement, Step
from assessments.selectors.desk import states_of
from assessments.selectors.ledger import own_page
from assessments.selectors.today import desk_of
from assessments.services.assign import CannotAsk, release_answers
from assessments.services.hand_in import send, start_attempt
from assessments.services.review import accept, count, override, return_for_another_go
from tests import factories
from tunes.access import closed, holds, refuse_held_chords
from tunes.harmony.chords import parse_symbol
from tunes.harmony.pitch.spelling import Interval
from tunes.models import Recording

pytestmark = pytest.mark.django_db
CHART = "key: F major\n[A]\n|: Fmaj7 | Gm7 C7 :|\n[B]\n| Bbmaj7 | % | Am7 Abm7 | N.C. |\n"
RIGHT = {
    "changes:0": "Fmaj7",
    "changes:1": "Gm7 C7",
    "changes:4": "Bbmaj7",
    "changes:5": "Bbmaj7",
    "changes:6": "Am7 Abm7",
    "changes:7": "N.C.",
}


class Cast:
    """An ensemble, a tune with a reference recording, and a player of piano, who reads concert pitch."""

    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble()
        self.leader = factories.make_instructor(self.ensemble, "Leo Leader")
        self.player = factories.make_player(self.ensemble, "Pia Player", instrument="piano")
        self.chart = factories.make_chart_revision("Harbour Steps", text=CHART)
        self.tune = self.chart.version.tune
        self.heard = factories.make_recording(self.tune, "The Reference", is_reference=True)
        self.lead, self.play = Client(), Client()
        self.lead.force_login(self.leader)
        self.play.force_login(self.player)

    def assigned(self, *kinds: str, **fields: Any) -> Step:
        made = factories.make_assignment(
            self.ensemble, by=self.leader, kinds=kinds or ("changes",), revision=self.chart, **fields
        )
        return made.steps.get(kind=(kinds or ("changes",))[0])

    def handed_in(self, step: Step, **answers: str) -> Attempt:
        return factories.make_attempt(step, self.player, answers=RIGHT | answers, hand_in=True)


@pytest.fixture
def cast() -> Cast:
    return Cast()


# --- asking


def test_a_bar_is_asked_once_and_what_is_shown_names_no_chord(cast: Cast) -> None:
    quiz = cast.assigned().quiz
    assert quiz.ids == list(RIGHT)
    shown = json.dumps(quiz.asked)
    assert [word for word in ("Fmaj7", "Gm7", "Bb", "Am7", "events", 'chords"') if word in shown] == []


def test_the_recording_is_that_of_the_day_it_was_assigned(cast: Cast) -> None:
    step = cast.assigned()
    assert step.options["recording"] == cast.heard.pk
    Recording.objects.filter(pk=cast.heard.pk).update(is_reference=False)
    factories.make_recording(cast.tune, "A Later One", is_reference=True)
    attempt = start_attempt(step=step, player=cast.player)
    text = cast.play.get(reverse("work:attempt", args=[attempt.pk])).content.decode()
    assert "The Reference" in text
    assert "A Later One" not in text
    cast.heard.delete()
    assert "A Later One" in cast.play.get(reverse("work:attempt", args=[attempt.pk])).content.decode()


# Key of the recording, key of the chart, and the first chord that is then asked (concert pitch).
SOUNDING = [
    ("F major", "Fmaj7"),
    ("", "Fmaj7"),
    ("Eb major", "Ebmaj7"),
    ("F# major", "Gbmaj7"),
    ("Db major", "Dbmaj7"),
    ("F minor", "Fmaj7"),  # another mode: nobody knows what to make of it
]


@pytest.mark.parametrize(("key", "first"), SOUNDING)
def test_what_is_asked_is_what_sounds(cast: Cast, key: str, first: str) -> None:
    """Recordings sound in keys of their own; the class's chart may stand in another. A tenor reads a tone higher."""
    Recording.objects.filter(pk=cast.heard.pk).update(key=key)
    step = cast.assigned()
    assert step.quiz.questions[0]["key"]["chords"][0]["chord"] == first
    symbol = parse_symbol(first).symbol
    assert symbol is not None
    done = cast.handed_in(step, **{"changes:0": first})
    assert Mark.objects.get(attempt=done, question="changes:0").points == 1
    page = cast.play.get(reverse("work:attempt", args=[done.pk])).content.decode()
    assert f"Bar 1 has {symbol.display}." in page
    assert symbol.spoken in page  # the chart with the marks stands in the same key
    tenor = factories.make_player(cast.ensemble, instrument="tenor-sax")
    written = symbol.transposed(Interval.parse("M2")).text
    theirs = factories.make_attempt(step, tenor, answers={"changes:0": written}, hand_in=True)
    assert Mark.objects.get(attempt=theirs, question="changes:0").points == 1


def test_a_chart_taken_from_another_recording_is_heard_on_that_one(cast: Cast) -> None:
    other = factories.make_recording(cast.tune, "Another Band", key="G major")
    cast.chart = factories.make_version(cast.tune, CHART, source_recording=other)
    step = cast.assigned()
    assert (step.options["recording"], step.quiz.home) == (other.pk, "G major")


def test_without_a_reference_it_cannot_be_assigned_and_the_page_says_what_to_do(cast: Cast) -> None:
    cast.heard.delete()
    with pytest.raises(CannotAsk, match="no reference recording to hear"):
        cast.assigned()
    sent = {
        "tune": cast.tune.pk,
        "ensemble": cast.ensemble.pk,
        "revision": cast.chart.pk,
        "title": "By ear",
        "strictness": "quality",
        "alternatives": "part",
        "attempts_allowed": 2,
        "release": "hand-in",
        "pitch_in": "written",
        "token": "8a3c2c52-0000-4000-8000-000000000001",
        "step-changes-on": "on",
    }
    response = cast.lead.post(reverse("work:assign"), sent)
    assert response.status_code == 422
    assert "Choose one on the tune&#x27;s page, then assign it." in response.content.decode()
    assert not Assignment.objects.exists()


@pytest.mark.parametrize(("part", "prompt"), [("", "which chords"), ("bass", "which bass notes")])
def test_the_instructor_chooses_what_is_taken_down(cast: Cast, part: str, prompt: str) -> None:
    sent = {
        "tune": cast.tune.pk,
        "ensemble": cast.ensemble.pk,
        "revision": cast.chart.pk,
        "title": "By ear",
        "strictness": "quality",
        "alternatives": "part",
        "attempts_allowed": 2,
        "release": "hand-in",
        "pitch_in": "written",
        "token": "8a3c2c52-0000-4000-8000-000000000002",
        "step-changes-on": "on",
        "step-changes-part": part,
    }
    assert cast.lead.post(reverse("work:assign"), sent).status_code == 302
    step = Step.objects.get()
    assert (step.kind, step.options["part"]) == ("changes", part)
    assert prompt in step.quiz.asked[0]["prompt"]


# --- closed charts

STATES = [
    # what the player has done of it, and whether the charts of the tune are closed to them
    ("nothing", True),
    ("begun", True),
    ("handed in", False),
    ("a further go begun", True),
    ("returned", True),
    ("returned and handed in again", False),
    ("reviewed", False),
    ("handed in, answers not out", False),
    ("handed in after the due date", False),
    ("term over", False),
    ("overdue, nothing sent", True),
]


def bring_about(cast: Cast, state: str) -> None:
    past = timezone.now() - timedelta(days=2)
    late = state in ("handed in after the due date", "overdue, nothing sent")
    step = cast.assigned(due=past if late else None, release="by-hand" if "not out" in state else "hand-in")
    if state == "begun":
        start_attempt(step=step, player=cast.player)
    if state not in ("nothing", "begun", "term over", "overdue, nothing sent"):
        done = cast.handed_in(step)
        if state.startswith("returned"):
            return_for_another_go(attempt_id=done.pk, by=cast.leader, version=done.version)
        if state == "reviewed":
            accept(attempt_id=done.pk, by=cast.leader, version=done.version)
        if state == "a further go begun":
            start_attempt(step=step, player=cast.player)
        if state == "returned and handed in again":
            cast.handed_in(step)
    if state == "term over":
        term = cast.ensemble.term
        term.ends = timezone.localdate() - timedelta(days=1)
        term.save()


@pytest.mark.parametrize(("state", "shut"), STATES)
def test_when_the_charts_of_a_tune_are_closed(cast: Cast, state: str, shut: bool) -> None:
    bring_about(cast, state)
    assert (cast.tune.pk in closed(cast.player, [cast.tune])) is shut
    if shut:
        with pytest.raises(PermissionDenied, match="its charts open when you hand in"):
            refuse_held_chords(cast.player, cast.tune)
    else:
        assert refuse_held_chords(cast.player, cast.tune) == ""


def test_to_whom_and_of_what_they_are_closed(cast: Cast) -> None:
    cast.assigned()
    other_tune = factories.make_tune()
    everybody = {
        "player": cast.player,
        "classmate": factories.make_player(cast.ensemble),
        "leader": cast.leader,
        "stranger": factories.make_player(factories.make_ensemble()),
        "director": factories.make_director(),
        "leads elsewhere": factories.make_instructor(
            factories.make_ensemble(), user=factories.make_player(cast.ensemble)
        ),
    }
    shut = {name: cast.tune.pk in closed(user, [cast.tune]) for name, user in everybody.items()}
    assert [name for name, is_shut in shut.items() if is_shut] == ["player", "classmate", "leads elsewhere"]
    assert closed(cast.player, [other_tune]) == {}
    assert closed(cast.player, []) == {}


def test_what_is_closed_may_take_two_queries(cast: Cast, django_assert_max_num_queries: Any) -> None:
    cast.assigned("changes", "function", "key-areas")
    tunes = [cast.tune, *(factories.make_tune() for _ in range(20))]
    user = type(cast.player).objects.get(pk=cast.player.pk)
    with django_assert_max_num_queries(3):  # one of them reads the person's chairs, once a request
        assert list(holds(user, tunes)) == [cast.tune.pk]


@pytest.mark.parametrize(
    "kind", [kind for kind in quiz_kinds() if kind not in ("changes", "solo-notes")]
)  # that one needs a solo
def test_a_quiz_that_shows_chords_waits_for_the_changes_by_ear(cast: Cast, kind: str) -> None:
    by_ear = cast.assigned("changes", kind)
    quiz = by_ear.assignment.steps.get(kind=kind)
    waits = kind != "form"  # which neither asks nor tells a chord
    assert [state.closed for state in states_of(cast.player, [by_ear, quiz])] == [False, waits]
    answer = cast.play.post(reverse("work:start", args=[quiz.pk]))
    assert answer.status_code == (403 if waits else 302)
    begun = start_attempt(step=quiz, player=cast.player)  # as if it had been begun before the other was assigned
    pages = [("get", "work:attempt"), ("post", "work:hand-in"), ("get", "api:attempt"), ("post", "api:hand-in")]
    assert [ask(cast, method, route, begun).status_code for method, route in pages[: 4 if waits else 1]] == (
        [403] * 4 if waits else [200]
    )
    save = {
        "client": "8a3c2c52-0000-4000-8000-000000000003",
        "saves": [{"q": quiz.quiz.ids[0], "text": "C", "seq": 1, "base": 0}],
    }
    saved = cast.play.post(reverse("work:save", args=[begun.pk]), json.dumps(save), "application/json")
    assert saved.json()["results"][0]["outcome"] == "saved"  # a window that was open loses nothing
    cast.handed_in(by_ear)
    assert [ask(cast, *page, begun).status_code for page in (pages[0], pages[2])] == [200, 200]
    assert ask(cast, "post", "work:hand-in", begun).status_code == 302


def test_the_staves_of_a_solo_wait_for_the_changes_by_ear(cast: Cast) -> None:
    """The changes stand above them: no list leads to a closed door, and what was handed in stays in reach."""
    by_ear = cast.assigned("changes", "write-out")
    step = by_ear.assignment.steps.get(kind="write-out")
    address = reverse("tunes:solo-new", args=[cast.tune.pk])

    def stands() -> tuple[bool, bool, bool, bool]:
        page = cast.play.get(reverse("work:step", args=[step.pk])).content.decode()
        today = any(work.name == f"step-{step.pk}" for work in desk_of(cast.player).works)
        return states_of(cast.player, [step])[0].closed, address in page, "charts open when you hand in" in page, today

    assert cast.play.get(address).status_code == 403
    assert stands() == (True, False, True, False)
    handed = cast.handed_in(by_ear)
    assert cast.play.get(address).status_code == 200
    assert stands() == (False, True, False, True)
    send(step=step, player=cast.player, token=uuid.uuid4(), note="On paper")
    Attempt.objects.filter(pk=handed.pk).update(status=Attempt.Status.RETURNED)
    assert not states_of(cast.player, [step])[0].closed


def test_what_shows_no_chord_goes_on_meanwhile(cast: Cast) -> None:
    """Listening, a hand-in and a sign-off wait for nothing."""
    by_ear = cast.assigned("changes", "listening", "hand-in", "sign-off")
    steps = list(by_ear.assignment.steps.all())
    assert [state.closed for state in states_of(cast.player, steps)] == [False] * 4
    assert [cast.play.get(reverse("work:step", args=[step.pk])).status_code for step in steps] == [200] * 4
    sent = call(
        cast,
        cast.player,
        "post",
        "api:send",
        steps[2].pk,
        body={"token": "8a3c2c52-0000-4000-8000-000000000005", "note": "Played it"},
    )
    assert sent.status_code == 201
    assert ask(cast, "get", "api:attempt", Attempt.objects.get(pk=sent.json()["id"])).status_code == 200


def ask(cast: Cast, method: str, route: str, attempt: Attempt) -> Any:
    extra = {}
    if route.startswith("api:"):
        _, key = make_token(owner=cast.player, name="all", scopes=sorted(SCOPE_IDS), days=1)
        extra = {"headers": {"Authorization": f"Bearer {key}"}, "content_type": "application/json"}
    return getattr(cast.play, method)(reverse(route, args=[attempt.pk]), **extra)


def test_feedback_of_the_first_go_closes_with_the_charts_while_a_second_is_written(cast: Cast) -> None:
    step = cast.assigned()
    first = cast.handed_in(step, **{"changes:1": "Gm7"})
    page = reverse("work:attempt", args=[first.pk])
    assert "Bar 2 has Gm7 C7." in cast.play.get(page).content.decode()
    start_attempt(step=step, player=cast.player)
    assert cast.play.get(page).status_code == 403
    assert ask(cast, "get", "api:attempt", first).status_code == 403


# --- answering, marking, reviewing, the record


def test_the_empty_form_shows_bars_and_no_chord(cast: Cast) -> None:
    attempt = start_attempt(step=cast.assigned(), player=cast.player)
    text = cast.play.get(reverse("work:attempt", args=[attempt.pk])).content.decode()
    assert text.count('data-kind="changes"') == len(RIGHT)
    assert 'class="chord__root"' not in text
    assert [word for word in ("Fmaj7", "Gm7", "Bbmaj7", "Am7") if word in text] == []
    assert "closed until you hand in" in text


def test_the_echo_reads_a_bar_in_its_metre(cast: Cast) -> None:
    def echo(text: str, **more: str) -> tuple[str, bool]:
        said = cast.play.get(reverse("work:echo"), {"kind": "changes", "q": text, "metre": "4/4"} | more).json()
        return said["text"], said["ok"]

    assert echo("D-7 G7") == ("Dm7  G7", True)
    assert echo("C / / F7") == ("C  F7", True)
    assert echo("C / F7", metre="3/4") == ("C  F7", True)
    assert echo("C / / F7", metre="3/4")[1] is False
    assert echo("d g", part="bass") == ("bass D  G", True)
    assert echo("%") == ("Type the chord again: every bar is heard for itself.", False)


def test_marks_bar_by_bar_with_their_rules(cast: Cast) -> None:
    done = cast.handed_in(cast.assigned(), **{"changes:1": "Gm7 Gb7", "changes:4": "Gm7", "changes:6": ""})
    rows = dict(Mark.objects.filter(attempt=done).values_list("question", "points"))
    rules = dict(Mark.objects.filter(attempt=done).values_list("question", "rule"))
    assert rows == {
        "changes:0": 1,
        "changes:1": 0.875,
        "changes:4": 0.5,
        "changes:5": 1,
        "changes:6": 0,
        "changes:7": 1,
    }
    assert rules["changes:1"] == "changes-tritone-substitute"
    assert rules["changes:4"] == "changes-third-apart"
    assert (done.percent, done.out_of) == (73, 6)
    page = cast.play.get(reverse("work:attempt", args=[done.pk])).content.decode()
    assert "Tritone substitute." in page
    assert "Bar 2 has Gm7 C7." in page
    for route, args in (("work:sheet", done.pk), ("work:ensemble-sheet", done.step_id)):
        assert cast.lead.get(reverse(route, args=[args])).status_code == 200


def test_a_transposing_player_writes_and_reads_in_their_own_pitch(cast: Cast) -> None:
    """A tenor part stands a major ninth above concert pitch (published transposition of the instrument)."""
    tenor = factories.make_player(cast.ensemble, "Tess Tenor", instrument="tenor-sax")
    written = {
        "changes:0": "Gmaj7",
        "changes:1": "Am7 D7",
        "changes:4": "Cmaj7",
        "changes:5": "Cmaj7",
        "changes:6": "Bm7 Bbm7",
        "changes:7": "N.C.",
    }
    done = factories.make_attempt(cast.assigned(), tenor, answers=written, hand_in=True)
    assert done.percent == 100


@pytest.mark.parametrize("release", ["hand-in", "last", "due", "by-hand"])
def test_handing_in_opens_the_charts_so_a_further_go_counts_only_if_an_instructor_says_so(
    cast: Cast, release: str
) -> None:
    """The answers stand on the charts, however late they are told on the player's own sheet."""
    step = cast.assigned(release=release, due=timezone.now() + timedelta(days=3))
    first = cast.handed_in(step, **{"changes:0": ""})
    assert closed(cast.player, [cast.tune]) == {}
    page = cast.play.get(reverse("work:attempt", args=[first.pk])).content.decode()
    assert ("Bar 2 has Gm7 C7." in page) is (release in ("hand-in", "last"))  # no other go is waited for
    assert "The charts of this tune are open to you again. Another go is practice" in page
    second = cast.handed_in(step)
    assert (first.after_answers, second.after_answers) == (False, True)
    assert list(Evidence.objects.filter(player=cast.player).values_list("attempt", flat=True)) == [first.pk]
    count(attempt_id=second.pk, by=cast.leader, version=second.version)
    assert Evidence.objects.filter(attempt=second, percent=100, by=cast.leader).count() == 1


def test_returning_and_overriding_reach_the_ledger(cast: Cast) -> None:
    step = cast.assigned(release="by-hand")
    done = cast.handed_in(step, **{"changes:6": ""})
    fact = Evidence.objects.get(player=cast.player)
    assert (fact.kind, fact.percent, fact.what) == ("changes", 83, "Changes by ear: 83% (attempt 1)")
    done = Attempt.objects.get(pk=done.pk)
    override(
        attempt_id=done.pk,
        by=cast.leader,
        version=done.version,
        question="changes:6",
        points=1.0,
        reason="Hard to hear",
    )
    done.refresh_from_db()
    assert done.percent == 100
    return_for_another_go(attempt_id=done.pk, by=cast.leader, version=done.version)
    standing = Evidence.objects.filter(player=cast.player, withdraws=None, withdrawn_by=None)
    assert standing.count() == 0
    again = cast.handed_in(step)
    count(attempt_id=again.pk, by=cast.leader, version=again.version)  # the charts were open in between
    release_answers(assignment=step.assignment)
    assert Evidence.objects.filter(attempt=again).values_list("percent", flat=True).get() == 100
    ProgrammeRequirement.objects.create(kind="changes", pass_mark=90)
    [(_, own)] = own_page(cast.player, [cast.tune], for_player=True)
    assert [(s.kind, s.done, s.best) for s in own.steps if s.kind == "changes"] == [("changes", True, 100)]
    assert (
        "Changes by ear"
        in cast.lead.get(reverse("work:evidence", args=[cast.player.pk, cast.tune.pk])).content.decode()
    )


# --- over REST


def call(cast: Cast, user: Any, method: str, route: str, *args: Any, body: Any = None) -> Any:
    _, key = make_token(owner=user, name="all", scopes=sorted(SCOPE_IDS), days=1)
    return getattr(cast.play, method)(
        reverse(route, args=args),
        json.dumps(body or {}) if method != "get" else None,
        content_type="application/json",
        headers={"Authorization": f"Bearer {key}"},
    )


def test_the_whole_step_over_rest(cast: Cast) -> None:
    asked = {
        "ensemble": cast.ensemble.pk,
        "revision": cast.chart.pk,
        "title": "By ear",
        "pitch_in": "concert",
        "release": "hand-in",
        "steps": [{"kind": "changes", "part": "bass"}, {"kind": "form"}],
    }
    made = call(cast, cast.leader, "post", "api:assignments", body=asked)
    assert made.status_code == 201, made.content
    step, form = made.json()["steps"]
    assert (step["part"], step["recording"], form["part"], form["recording"]) == ("bass", cast.heard.pk, None, None)
    begun = call(cast, cast.player, "post", "api:start", step["id"]).json()
    assert {q["event"] for q in begun["questions"]} == {None}
    assert call(cast, cast.player, "get", "api:revision", cast.chart.pk).status_code == 403
    bass = {
        "changes:0": "F",
        "changes:1": "G C",
        "changes:4": "Bb",
        "changes:5": "Bb",
        "changes:6": "A Ab",
        "changes:7": "none",
    }
    saves = [{"question": q, "text": text, "sequence": n} for n, (q, text) in enumerate(bass.items(), 1)]
    saved = call(
        cast,
        cast.player,
        "put",
        "api:answers",
        begun["id"],
        body={"client": "8a3c2c52-0000-4000-8000-000000000004", "saves": saves},
    )
    assert {row["outcome"] for row in saved.json()["results"]} == {"saved"}
    done = call(cast, cast.player, "post", "api:hand-in", begun["id"]).json()
    assert done["percent"] == 100, done["marks"]
    assert call(cast, cast.player, "get", "api:revision", cast.chart.pk).status_code == 200
    cast.heard.delete()
    refused = call(cast, cast.leader, "post", "api:assignments", body=asked)
    assert refused.status_code == 422
    assert "no reference recording" in refused.json()["detail"]
