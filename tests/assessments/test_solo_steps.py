"""Steps about a solo: the quiz on its notes, a solo handed in, and its comparison with the key."""

from __future__ import annotations

import re
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from assessments.models import Attempt, Submission
from assessments.own_quiz import Wish
from assessments.selectors.solos import handed_solo, notes_named
from assessments.services import own_quiz
from assessments.services.answer import Save, save_answers
from assessments.services.assign import CannotAsk, StepPlan, assign
from assessments.services.hand_in import hand_in, send, start_attempt
from drills.models import PracticeCue
from studio.models import User
from tests import factories
from tunes.models import Solo, SoloRevision

CHART = "key: F major\nmetre: 4/4\n| Gm7 | C7 | Fmaj7 | % |\n"


def notes(text: str) -> dict[str, Any]:
    """ "1:A4 Bb4 | 2:E4": crotchets in bars."""
    rows = []
    for part in text.split("|"):
        bar, _, names = part.strip().partition(":")
        rows += [
            {"bar": int(bar), "at": str(at), "length": "1", "pitch": name} for at, name in enumerate(names.split())
        ]
    return {"version": 1, "notes": rows}


class Class:
    """An ensemble with an instructor's solo over four bars, and a player with their own version of it."""

    def __init__(self) -> None:
        self.revision = factories.make_version(factories.make_tune("Low Bridge"), CHART)
        self.ensemble = factories.make_ensemble()
        self.instructor = factories.make_instructor(self.ensemble, "Ida")
        self.player = factories.make_player(self.ensemble, "Pia", instrument="alto-sax")
        self.key = self.solo(self.instructor, "1:D4 Bb4 A4 G4 | 2:Bb4 Db5 C5 E4 | 3:F4")
        self.own = self.solo(self.player, "1:D4 Bb4 A4 G5 | 2:Bb4 Db5 B4 E4 | 3:F4")

    def solo(self, by: User, text: str) -> SoloRevision:
        solo = Solo.objects.create(
            revision=self.revision, player="Odile Marchetti", instrument=by.instrument, last_bar=4, written_by=by
        )
        return SoloRevision.objects.create(solo=solo, number=1, notes=notes(text), count=9, by=by)

    def assign(self, kind: str, **options: Any) -> Any:
        made = assign(
            by=self.instructor,
            ensemble=self.ensemble,
            revision=self.revision,
            title="The solo",
            tell=False,
            release="hand-in",
            steps=[StepPlan(kind, options=options)],
        )
        return made.steps.get()


@pytest.fixture
def room(db: None) -> Class:
    return Class()


def test_the_quiz_asks_every_note_and_stores_its_key(room: Class) -> None:
    step = room.assign("solo-notes", solo=room.key.solo_id, first=1, last=2)
    quiz = step.quiz
    assert len(quiz.ids) == 8
    key = quiz.questions[5]["key"]
    assert (key["note"], key["chord"], key["degree"], key["place"]) == ("Db", "C7", "b9", "bar 2, beat 2")
    assert "key" not in quiz.asked[5]
    attempt = start_attempt(step=step, player=room.player)
    save_answers(
        attempt_id=attempt.pk,
        player_id=room.player.pk,
        client=uuid.uuid4(),
        saves=[
            Save(question["id"], f"{question['key']['degree']}, {question['key']['role']}", n)
            for n, question in enumerate(quiz.questions, 1)
        ],
    )
    assert hand_in(attempt_id=attempt.pk, player_id=room.player.pk).percent == 100


@pytest.mark.parametrize(("options", "said"), [
    ({}, "choose the solo"), ({"solo": 10**6}, "not of this tune"), ({"first": 3, "last": 9}, "bars 1 to 4"), ({"first": 4, "last": 4}, "no note"),
])  # fmt: skip
def test_what_cannot_be_asked_is_said(room: Class, options: dict[str, Any], said: str) -> None:
    with pytest.raises(CannotAsk, match=said):
        room.assign("solo-notes", **({"solo": room.key.solo_id} if "first" in options else {}), **options)


def test_an_open_quiz_on_its_notes_closes_the_reading_to_its_player(room: Class, client: Client) -> None:
    Solo.objects.filter(pk=room.key.solo_id).update(shared_with=room.ensemble)
    page = reverse("tunes:solo", args=[room.key.solo_id])
    client.force_login(room.player)
    before = client.get(page).content.decode()
    step = room.assign("solo-notes", solo=room.key.solo_id)
    during = client.get(page).content.decode()
    assert "♭9" in before
    assert "♭9" not in during
    attempt = start_attempt(step=step, player=room.player)
    hand_in(attempt_id=attempt.pk, player_id=room.player.pk)
    assert "♭9" in client.get(page).content.decode()


def test_a_solo_is_handed_in_and_laid_beside_the_key(room: Class, client: Client) -> None:
    step = room.assign("write-out", solo=room.key.solo_id, first=1, last=4)
    client.force_login(room.player)
    answer = client.post(reverse("work:step", args=[step.pk]), {"solo": room.own.pk, "token": uuid.uuid4()})
    assert answer.status_code == 302
    sent = Submission.objects.get()
    found = handed_solo(sent, step)
    assert found
    assert found.agreement
    assert [(row["bar"], row["what"]) for row in found.rows] == [(1, "in another octave"), (2, "another note")]
    page = reverse("work:handed-solo", args=[sent.pk])
    mine = client.get(page).content.decode()
    assert "<svg" in mine
    assert "Beside the key" not in mine, "the key is for who reviews it"
    client.force_login(room.instructor)
    assert "8 of 9 notes agree" in client.get(page).content.decode()
    notes = [words for _, rows in notes_named(found) for _, words in rows]
    assert re.fullmatch(
        r"bar 2, beat [\d.]+, [A-G][♭♯]?\d", next(words for words in notes if words.startswith("bar 2"))
    )
    said = {"text": "Hear it again: <i>up</i>", "note": notes.index(notes[5]), "sent": sent.pk, "token": uuid.uuid4()}
    address = reverse("work:comment", args=[sent.attempt_id])
    assert client.post(address, said).headers["Location"] == page
    client.post(address, said | {"note": 9999, "token": uuid.uuid4(), "text": "On the whole, good time"})
    assert [comment.note for comment in sent.attempt.comments.all()] == [notes[5], ""]
    client.force_login(room.player)
    mine = client.get(page).content.decode()
    assert f"{notes[5][0].upper()}{notes[5][1:]}:</span>" in mine
    assert "<i>up</i>" not in mine
    assert "comment-note" not in mine, "who reviews it comments"
    assert client.post(address, said | {"token": uuid.uuid4()}).status_code in (403, 404)
    Attempt.objects.update(status=Attempt.Status.REVIEWED)
    client.force_login(room.player)
    assert "Beside the key" in client.get(page).content.decode()


def test_nobody_hands_in_the_solo_of_somebody_else(room: Class, client: Client) -> None:
    step = room.assign("write-out")
    client.force_login(room.player)
    answer = client.post(reverse("work:step", args=[step.pk]), {"solo": room.key.pk, "token": uuid.uuid4()})
    assert answer.status_code == 422
    assert not Submission.objects.exists()


def test_a_hand_in_without_a_solo_has_no_page_of_one(room: Class, client: Client) -> None:
    step = room.assign("write-out")
    send(step=step, player=room.player, token=uuid.uuid4(), note="On paper")
    client.force_login(room.player)
    assert client.get(reverse("work:handed-solo", args=[Submission.objects.get().pk])).status_code == 404


def test_two_versions_are_settled_bar_by_bar_and_taken_as_the_key(room: Class, client: Client) -> None:
    """Without a key two players' hand-ins stand side by side; what the instructor settles becomes the key of the step."""
    mate = factories.make_player(room.ensemble, "Mo", instrument="trumpet")
    theirs = room.solo(mate, "1:D4 Bb4 A4 G4 | 2:Bb4 Db5 C5 E4 | 3:F4 A4")
    step = room.assign("write-out")
    one = send(step=step, player=room.player, token=uuid.uuid4(), solo=room.own).submissions.get()
    other = send(step=step, player=mate, token=uuid.uuid4(), solo=theirs).submissions.get()
    page = reverse("work:solos-beside", args=[one.pk, other.pk])
    client.force_login(room.player)
    assert client.get(page).status_code == 404, "a player never sees another's hand-in"
    client.force_login(room.instructor)
    assert page in client.get(reverse("work:handed-solo", args=[one.pk])).content.decode()
    shown = client.get(page).content.decode()
    assert shown.count("<fieldset") == 3
    assert "beat 4: G5 or G4" in shown
    assert client.post(page, {"bar-0": "other", "bar-1": "other"}).status_code == 422, "bar 3 is open"
    answer = client.post(page, {"bar-0": "other", "bar-1": "other", "bar-2": "one"})
    assert answer.status_code == 302
    step.refresh_from_db()
    agreed = SoloRevision.objects.get(pk=step.options["kept"])
    assert agreed.solo.written_by == room.instructor
    assert agreed.solo.shared_with is None
    assert [row["pitch"] for row in agreed.notes["notes"] if "pitch" in row] == [
        "D4",
        "Bb4",
        "A4",
        "G4",
        "Bb4",
        "Db5",
        "C5",
        "E4",
        "F4",
    ]
    found = handed_solo(one, step)
    assert found
    assert found.agreement
    assert [(row["bar"], row["what"]) for row in found.rows] == [(1, "in another octave"), (2, "another note")]
    assert client.post(page, {f"bar-{n}": "one" for n in range(3)}).status_code == 302
    step.refresh_from_db()
    assert step.options["kept"] == agreed.pk, "a key that is there stays"
    Solo.objects.filter(pk=theirs.solo_id).update(last_bar=3)
    assert client.get(page).status_code == 302, "other bars"


def test_the_step_leads_to_the_staves_of_its_bars(room: Class, client: Client) -> None:
    """A new solo begins with the bars, chart and player of the key, so that the two can be laid beside each other."""
    step = room.assign("write-out", solo=room.key.solo_id, first=1, last=4)
    Solo.objects.filter(pk=room.own.solo_id).update(last_bar=2)
    client.force_login(room.player)
    page = client.get(reverse("work:step", args=[step.pk])).content.decode()
    assert "Go on with" not in page, "their solo covers other bars"
    found = re.search(r'href="(/tunes/\d+/solos/new/\?[^"]+)"', page)
    assert found
    begun = client.get(found[1].replace("&amp;", "&")).content.decode()
    assert 'value="Odile Marchetti"' in begun
    assert re.search(r'name="last_bar" value="4"', begun)
    Solo.objects.filter(pk=room.own.solo_id).update(last_bar=4)
    assert "Go on with Odile Marchetti" in client.get(reverse("work:step", args=[step.pk])).content.decode()


def test_players_ask_themselves_the_notes_of_a_solo(room: Class, client: Client) -> None:
    """Of one that they may read and of no other; marked as the step marks it, no evidence; an open quiz on it closes it."""
    tune = room.revision.version.tune_id
    wish = Wish("tune", "solo-notes", 0, tune=tune)
    Solo.objects.filter(pk=room.own.solo_id).delete()
    with pytest.raises(own_quiz.NothingToAsk, match="No solo that you may read"):
        own_quiz.start(player=room.player, wish=wish)  # the instructor's is not shared
    Solo.objects.filter(pk=room.key.solo_id).update(shared_with=room.ensemble)
    quiz = own_quiz.start(player=room.player, wish=wish, seed=1)
    assert [(q["key"]["note"], q["key"]["degree"]) for q in quiz.questions][:5] == [
        ("D", "5"), ("Bb", "b3"), ("A", "9"), ("G", "1"), ("Bb", "b7"),
    ]  # fmt: skip
    client.force_login(room.player)
    page = client.get(reverse("work:own-quiz", args=[quiz.pk]))
    assert page.status_code == 200
    assert "over A7" in page.content.decode(), "C7 as an alto reads it"
    answers = {q["id"]: f"{q['key']['degree']}, {q['key']['role']}" for q in quiz.questions}
    answers[quiz.questions[8]["id"]] = "b2"
    saves = [Save(name, text, n) for n, (name, text) in enumerate(answers.items(), 1)]
    own_quiz.save(quiz_id=quiz.pk, player_id=room.player.pk, client=uuid.uuid4(), saves=saves)
    marked = own_quiz.hand_in(quiz_id=quiz.pk, player=room.player)
    assert [mark["points"] for mark in marked.marks[:8]] == [1] * 8
    assert list(PracticeCue.objects.values_list("bar", "why")) == [
        (3, "Missed when you tested yourself: what each note is")
    ]
    assert client.get(reverse("work:own-quiz", args=[quiz.pk])).status_code == 200
    mixed = own_quiz.start(player=room.player, wish=Wish("mix", "solo-notes", 2), seed=1)
    assert len(mixed.questions) == 9
    room.assign("solo-notes", solo=room.key.solo_id, first=1, last=2)
    with pytest.raises(own_quiz.NothingToAsk, match="No solo that you may read is open"):
        own_quiz.start(player=room.player, wish=wish)


def test_the_notes_that_are_asked_stay_closed_until_they_are_handed_in(room: Class, client: Client) -> None:
    """Also another solo from the same recording; the player's own stays open, and the instructor sees them all."""
    recording = factories.make_recording(room.revision.version.tune)
    other = room.solo(room.instructor, "1:D4")
    Solo.objects.filter(pk__in=[room.key.solo_id, other.solo_id]).update(shared_with=room.ensemble, recording=recording)
    step = room.assign("write-out", solo=room.key.solo_id)
    addresses = [reverse("tunes:solo", args=[one.solo_id]) for one in (room.key, other, room.own)]
    client.force_login(room.player)
    assert [client.get(address).status_code for address in addresses] == [403, 403, 200]
    assert "they open when yours are handed in" in client.get(addresses[0]).text
    send(step=step, player=room.player, token=uuid.uuid4(), solo=room.own)
    assert [client.get(address).status_code for address in addresses] == [200, 200, 200]
    client.force_login(room.instructor)
    assert [client.get(address).status_code for address in addresses[:2]] == [200, 200]
