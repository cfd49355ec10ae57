"""Two takes beside each other: whose may be chosen, and what the machine says of both, bar by bar."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.test import Client
from django.utils import timezone

from assessments.services.hand_in import send
from assessments.services.sign_off import sign_off
from drills.advice.beside import beside_of
from drills.advice.models import TakeAdvice
from drills.hearing.result import Advice, BarAdvice, ChorusAdvice, NoteAdvice
from drills.models import Take
from drills.takes.access import take_or_404
from drills.takes.belongs import places_of
from drills.takes.selectors import others_like
from tests import factories
from tests.drills.studies import FORM

PLAYED = {
    "version": 1,
    "bars": [[1, 0.0, 4.0, 4, 4], [2, 4.0, 4.0, 4, 4]],
    "notes": [[0.0, 2.0, 60], [2.0, 2.0, 62], [4.0, 4.0, 64]],
}
RIGHT = [NoteAdvice(n, 1, n // 2, "as-written", cents=0) for n in range(3)]


def made(
    player: Any, ensemble: Any, revision: Any, days: int, notes: list[NoteAdvice], contested: tuple[str, ...] = ()
) -> Take:
    now = timezone.now()
    take = Take.objects.create(
        player=player, ensemble=ensemble, kind="drill", revision=revision, title="Guide tones", tempo=120, starts_at=2.0, played=PLAYED,
        media_type="audio/webm", size=10, duration=8, digest="0", token=uuid.uuid4(), made=now - dt.timedelta(days=days),
    )  # fmt: skip
    advice = Advice(
        "heard", tempo=120, notes=tuple(notes), bars=(BarAdvice(0, 1, 2, 2, 0.0), BarAdvice(1, 1, 1, 1, 0.0)),
        choruses=(ChorusAdvice(1, 3, 3, 120.0),),
    )  # fmt: skip
    TakeAdvice.objects.create(take=take, state="heard", data=advice.to_json(), contested=list(contested), heard=now)
    return take


def test_before_and_now_and_two_players(db: None) -> None:
    ensemble = factories.make_ensemble()
    pia, cleo = factories.make_player(ensemble, "Pia"), factories.make_player(ensemble, "Cleo")
    leader = factories.make_instructor(ensemble, "Ines")
    revision = factories.make_version(factories.make_tune("Weir Song"), FORM)
    wrong = [NoteAdvice(0, 1, 0, "another", "D", 62), NoteAdvice(1, 1, 0, "another", "E", 64), RIGHT[2]]
    late = [RIGHT[0], RIGHT[1], NoteAdvice(2, 1, 1, "as-written", timing="late", off_ms=140, cents=-30)]
    before = made(pia, ensemble, revision, 30, wrong)
    now = made(pia, ensemble, revision, 1, late)
    hers = made(cleo, ensemble, revision, 2, RIGHT)
    alone = made(cleo, None, revision, 2, RIGHT)  # given to nobody: hers alone

    assert others_like(pia, now) == [before]  # a player has their own takes only
    assert others_like(leader, now) == [before, hers]  # the same player first
    assert others_like(cleo, hers) == [alone]

    mine, old, other = (take_or_404(leader, take.pk) for take in (now, before, hers))
    rows = beside_of(mine, old)
    assert rows is not None
    assert [(row["where"], [s["words"] for s in row["mine"]], [s["words"] for s in row["theirs"]]) for row in rows] == [
        ("bar 1", [], ["another note"]),
        ("bar 2", ["late", "flat"], []),
    ]
    assert rows[0]["theirs"][0]["count"] == 2
    assert [row["where"] for row in beside_of(mine, other) or ()] == ["bar 2"]
    TakeAdvice.objects.filter(take=now).update(contested=["1:2"])
    assert beside_of(take_or_404(leader, now.pk), other) == []  # contested counts nowhere
    TakeAdvice.objects.filter(take=hers).update(state="declined", reason="The band was heard.")
    assert beside_of(mine, take_or_404(leader, hers.pk)) is None

    client = Client()
    client.force_login(leader)
    page = client.get(f"/drills/takes/{now.pk}/?beside=take-{before.pk}").content.decode()
    assert "Sign by sign beside" in page
    assert f'<option value="take-{hers.pk}">Cleo of ' in page
    client.force_login(pia)
    page = client.get(f"/drills/takes/{now.pk}/?beside=take-{hers.pk}").content.decode()
    assert "Cleo" not in page
    assert "Sign by sign" not in page


def test_a_take_says_where_it_belongs(db: None, django_assert_max_num_queries: Any) -> None:
    ensemble = factories.make_ensemble()
    pia, leader = factories.make_player(ensemble, "Pia"), factories.make_instructor(ensemble, "Ines")
    revision = factories.make_version(factories.make_tune("Weir Song"), FORM)
    work = factories.make_assignment(ensemble, by=leader, kinds=("hand-in", "sign-off"), revision=revision)
    alone = made(pia, None, revision, 3, RIGHT)
    step = work.steps.get(kind="hand-in")
    waits, practice = places_of(pia, alone)
    assert (waits.words, practice.words) == (f"Hand it in for {step.name}, {work.title}", "Log it as practice")
    assert places_of(leader, alone) == []
    client = Client()
    client.force_login(pia)
    form = client.get(waits.url).content.decode()
    assert f'<option value="{alone.pk}" selected>' in form  # it stands there chosen already
    assert f'value="{alone.pk}" selected' not in client.get(f"/work/steps/{step.pk}/?take=x9").content.decode()
    take = made(pia, ensemble, revision, 2, RIGHT)
    attempt = send(step=step, player=pia, token=uuid.uuid4(), take=take)
    sign_off(step=work.steps.get(kind="sign-off"), players=[pia], by=leader, evidence="Heard at a distance")
    assert [place.words for place in places_of(pia, alone)] == ["Log it as practice"]  # the step waits for nothing more
    Take.objects.filter(pk=take.pk).update(instrument="trumpet")
    for user, address in ((pia, f"/work/steps/{step.pk}/"), (leader, f"/work/review/{attempt.pk}/")):
        first, second, *more = places_of(user, take)
        assert first.words.startswith(f"Handed in for {step.name}")
        assert first.url == address
        assert second.words.startswith("Signed off after it by Ines, ")
        assert [place.words for place in more] == (["Log it as practice"] if user == pia else [])
        client.force_login(user)
        with django_assert_max_num_queries(15):
            page = client.get(f"/drills/takes/{take.pk}/?beside=take-{alone.pk}").content.decode()
        assert f'href="{address}"' in page
        assert "trumpet in B♭, at" in page  # once "trumpet in b♭"
        assert 'aria-label="Main"' in page
        for place in (first, second, *more):
            assert not place.url or client.get(place.url).status_code == 200
