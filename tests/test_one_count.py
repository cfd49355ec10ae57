"""One count of bars: every page, file and answer calls the same bar alike.

The chart has a pickup, a repeat with first and second endings and a bridge after them. By hand: written 1 to 5 and the
endings 4 and 5, 6; as played 1 to 5, then 6, 7, 8 and the second ending 9, so the bridge, written 7, is bar 10. That players
count so is common practice, no source; `tunes.harmony.charts.bar_count` has the rule.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from api.scopes import SCOPE_IDS
from api.tokens import make_token
from assessments.services.review import comment
from drills import mei
from drills.lines.build import Recipe
from drills.printing import sheet_of_line
from drills.services.practice import cue_bars
from drills.sheets import lines
from drills.wishes import Wish
from tests import factories
from tunes.checks import services as checks
from tunes.harmony.charts.bar_count import bar_count, bar_name, bars_named, stretch_name
from tunes.study import chart_of, study_chart

TEXT = """key: C major
pickup: 1
[A]
| G7 |
|: Cmaj7 | Am7 | Dm7 |1. G7 | E7 :|2. C6 |
[B]
| Fm7 | Bb7 | Ebmaj7 | Eb6 |
"""
BRIDGE, WRITTEN, INDEX = 10, 7, 7  # the bar of Fm7: as played, as written, its place among the bars
NAMED = f"bar {BRIDGE} (written {WRITTEN})"


@pytest.mark.parametrize(
    ("index", "first", "besides", "name"),
    [
        (0, 0, "", "pickup"),
        (1, 1, "and 6 the second time", "bar 1, and 6 the second time"),
        (4, 4, "", "bar 4"),
        (6, 9, "written 6", "bar 9 (written 6)"),
        (7, 10, "written 7", "bar 10 (written 7)"),
    ],
)
def test_a_bar_that_is_drawn_once_goes_by_its_first_number(index: int, first: int, besides: str, name: str) -> None:
    count = bar_count(chart_of(TEXT))
    assert (count.first(index), count.besides(index), count.drawn_name(index)) == (first, besides, name)


def test_a_bar_that_no_chorus_reaches_has_its_written_number_alone() -> None:
    count = bar_count(chart_of("key: C\n|: C | F :|x3\n| G7 to coda |\n[Coda]\n| Am |"))
    assert [count.drawn_name(index) for index in range(4)] == [
        "bar 1, then 3 and 5", "bar 2, then 4 and 6", "bar 7 (written 3)", "written bar 4",
    ]  # fmt: skip
    assert (bar_name(0), bars_named([0, 2]), stretch_name(0, 3)) == ("pickup", "the pickup, bar 2", "pickup to bar 3")


class Walk:
    """A tune with everything on it that names bars, and the people who look at it."""

    def __init__(self) -> None:
        self.ensemble = factories.make_ensemble()
        self.leader = factories.make_instructor(self.ensemble, "Leo Leader")
        self.player = factories.make_player(self.ensemble, "Pia Player", instrument="piano")
        self.chart = factories.make_chart_revision("Harbour Steps", text=TEXT)
        self.tune = self.chart.version.tune
        factories.make_version(self.tune, TEXT.replace("Fm7", "Abmaj7"), name="Other")
        self.recording = factories.make_recording(
            self.tune, "Reference", is_reference=True, link="https://recordings.example/1"
        )
        self.event = next(e.index for e in chart_of(TEXT).events() if e.symbol is not None and e.symbol.text == "Fm7")
        self.clients = {user.pk: Client() for user in (self.leader, self.player)}
        for pk, client in self.clients.items():
            client.force_login(self.player if pk == self.player.pk else self.leader)
        steps = factories.make_assignment(
            self.ensemble, by=self.leader, kinds=("function", "key-areas"), revision=self.chart
        ).steps
        self.function, self.areas = (steps.get(kind=kind) for kind in ("function", "key-areas"))
        self.asked = f"function:{self.event}"

    def see(self, user: Any, route: str, *args: Any, **query: Any) -> str:
        response = self.clients[user.pk].get(reverse(route, args=args), query)
        assert response.status_code == 200, (route, response.status_code)
        return str(response.content.decode())

    def call(self, user: Any, route: str, pk: int) -> Any:
        _, token = make_token(owner=user, name="walk", scopes=sorted(SCOPE_IDS), days=1)
        response = Client().get(reverse(f"api:{route}", args=[pk]), headers={"Authorization": f"Bearer {token}"})
        assert response.status_code == 200, (route, response.status_code)
        return response.json()


def _open_pages(walk: Walk) -> Iterator[tuple[str, str, str]]:
    """(what, its text, a pattern whose group is the name of the bar there)."""
    see, leader, chart, tune = walk.see, walk.leader, walk.chart, walk.tune
    drawn = rf'id="bar-{INDEX}" data-played="(\d+)"'
    told = rf'id="bar-{INDEX}".*?bar </span>(\d+)</span><span class="bar__played">written {WRITTEN}<'
    page = see(leader, "tunes:version", tune.pk, chart.version_id)
    yield "chart", page, drawn
    yield "chart, its numbers", page, told
    out = see(leader, "tunes:version", tune.pk, chart.version_id, repeats="out")
    yield "chart written out", out, rf'bar </span>(\d+)</span><span class="bar__played">written {WRITTEN}<'
    yield "panel of a chord", see(leader, "tunes:event", chart.pk, walk.event), r"in (bar [^<]*)<"
    yield "panel of a key area", see(leader, "tunes:area", chart.pk, walk.event), r">(bar [^<:]*): Fm"
    preview = walk.clients[leader.pk].post(
        reverse("tunes:draft_new", args=[tune.pk]), {"text": TEXT.replace("| Fm7 |", "| fm7 |")}
    )
    yield "preview", preview.content.decode(), rf'id="bar-{INDEX}" data-played="(\d+)"'
    yield "problem", preview.content.decode(), r">(Bar [^<]*)</button>"
    drill = see(leader, "drills:drill", chart.pk, kind="arpeggios", part="bars", first_bar=WRITTEN, last_bar=WRITTEN)
    yield "drill in words", drill, r'<th scope="row">(\d+) <span class="quiet small">written 7<'
    yield "drill's player", drill, r'value="(\d+)" data-from'
    yield "drill's key areas", drill, r"from (bar \d+ \(written \d+\))"
    yield (
        "by ear",
        see(leader, "tunes:check", chart.pk),
        r'check__number">(10)</span> <span class="quiet small">written 7<',
    )
    yield "card", see(leader, "tunes:jam-card", tune.pk), r"bars (\d+) to 13 \(written 7\)"
    yield "memory", see(leader, "tunes:memory-sheet", tune.pk), r"bars (\d+) to 13 \(written 7\)"
    yield (
        "versions",
        see(leader, "tunes:compare", tune.pk),
        r'<th scope="row">(\d+) <span class="quiet small">written 7<',
    )
    yield "listening", see(leader, "tunes:recording", walk.recording.pk), r"written 7</span>.*?Bar </span>(\d+)<"
    band = walk.clients[leader.pk].get(reverse("drills:band_chorus", args=[chart.pk]), {"style": "four", "seed": "1"})
    yield "band", str(band.json()["bars"][BRIDGE]), r"\[(\d+),"
    yield "band's chart", see(leader, "drills:band", chart.pk), drawn


def _quiz_pages(walk: Walk) -> Iterator[tuple[str, str, str]]:
    see, leader, player = walk.see, walk.leader, walk.player
    begun = factories.make_attempt(walk.function, player)
    yield "quiz", see(player, "work:attempt", begun.pk), r'aria-label="(Bar [^,]*), beat 1, F minor'
    hidden = factories.make_chart_revision("Hidden Steps", text=TEXT)
    factories.make_recording(hidden.version.tune, "Reference", is_reference=True)
    step = factories.make_assignment(walk.ensemble, by=leader, kinds=("changes",), revision=hidden).steps.get()
    ear = see(player, "work:attempt", factories.make_attempt(step, player).pk)
    yield "changes by ear", ear, r'Bar </span>(\d+) <span class="quiet">written 7<'
    other = factories.make_player(walk.ensemble, "Otto Other", instrument="piano")
    done = factories.make_attempt(walk.function, other, answers={walk.asked: "b6"}, hand_in=True)
    areas = factories.make_attempt(walk.areas, other, answers={"key-areas:all": "1 G"}, hand_in=True)
    comment(attempt=done, by=leader, text="Again.", token="6f1c0a56-0000-4000-8000-000000000001", bar=WRITTEN)
    walk.clients[other.pk] = Client()
    walk.clients[other.pk].force_login(other)
    for who, user, route in (("review", leader, "work:sheet"), ("feedback", other, "work:attempt")):
        yield who, see(user, route, done.pk, view="list"), r"sheet__number\">(Bar 1\d[^<]*)</h"
        yield f"{who} of key areas", see(user, route, areas.pk), r"From (bar \d+ \(written 7\)),? "
    yield "ensemble sheet", see(leader, "work:ensemble-sheet", walk.function.pk, order="form"), r">(Bar 10[^<]*)</th>"
    yield (
        "accept",
        see(leader, "work:accept-answer", walk.function.pk, question=walk.asked, answer="b6"),
        r">(Bar 10[^<,]*)",
    )
    (row,) = (
        q for q in walk.call(leader, "ensemble-sheet", walk.function.pk)["results"] if q["question"] == walk.asked
    )
    yield "REST, ensemble sheet", f"{row['bar']} {row['written_bar']}", rf"^(\d+) {WRITTEN}$"
    mine = walk.call(leader, "attempt", done.pk)
    (row,) = (q for q in mine["questions"] if q["id"] == walk.asked)
    yield "REST, attempt", f"{row['bar']} {row['written_bar']}", rf"^(\d+) {WRITTEN}$"
    (said,) = mine["comments"]
    yield "REST, comment", f"{said['bar']} {said['written_bar']}", rf"^(\d+) {WRITTEN}$"
    row = walk.call(leader, "analysis", walk.chart.pk)["chords"][walk.event]
    yield "REST, analysis", f"{row['bar']} {row['written_bar']}", rf"^(\d+) {WRITTEN}$"


def _sheets(walk: Walk) -> Iterator[tuple[str, str, str]]:
    """What is printed, kept in a log or told."""
    wish = Wish(recipe=Recipe("arpeggios", "root", first_bar=WRITTEN, last_bar=WRITTEN), instrument="piano")
    (line,) = lines(study_chart(walk.chart), wish)
    yield "drill, engraved", mei.to_mei(line), r'<measure[^>]* n="(\d+)"'
    notes = " ".join(sheet_of_line(line, tune="T", credit="", pitch="").notes)
    yield "drill on paper", notes, rf"bar (\d+) is bar {WRITTEN} as written"
    cue_bars(user=walk.leader, revision=walk.chart, bars=[WRITTEN], why="Missed", source="walk")
    yield "practice plan", walk.see(walk.leader, "drills:practice"), r"Missed, bar (\d+)\."
    idiom = factories.make_idiom("going home", "2min 5dom 1maj")
    yield "idiom", walk.see(walk.leader, "tunes:idiom", idiom.pk), r">bars (\d+) to 1\d[^<]*, section B"
    check = checks.say(revision=walk.chart, bar=INDEX, by=walk.player, state="disputed", note="no", recording=None)
    yield "disputes", walk.see(walk.leader, "tunes:disputes"), r"Harbour Steps</a>, [^,]*, (bar [^<]*)</span>"
    made = checks.settle(check=check, by=walk.leader, chords="Eb6", note="")
    yield "settled", made.source_note, r"^(Bar \d+ \(written \d+\)) settled"
    yield "notice", walk.player.notices.get(kind="settled").text, r", (bar [^,]*), which"


@pytest.mark.django_db
@pytest.mark.parametrize("pages", [_open_pages, _quiz_pages, _sheets])
def test_every_place_calls_the_bar_alike(pages: Callable[[Walk], Iterator[tuple[str, str, str]]]) -> None:
    walk, wrong = Walk(), []
    for what, text, pattern in pages(walk):
        match = re.search(pattern, text, re.S)
        said = match[1].lower() if match else "nothing"
        if said not in (str(BRIDGE), NAMED):
            wrong.append((what, said))
    assert not wrong, "; ".join(f"{what}: {said}" for what, said in wrong)
