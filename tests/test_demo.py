"""The demo programme: loads whole or not at all, and every page that one can walk to in it answers, in few queries."""

from __future__ import annotations

import re
from collections import Counter, defaultdict, deque
from collections.abc import Iterator
from html import unescape
from itertools import combinations, zip_longest
from urllib.parse import urlsplit

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import resolve

from assessments.selectors.plan import planned, players_for
from studio.demo import load, people
from studio.models import Ensemble, Invitation, Membership, Programme, User
from tunes.demo.melodies import read_melody
from tunes.demo.melody_data import MELODIES
from tunes.harmony.charts import Chart, parse_chart
from tunes.lead_sheets.selectors import melody_by_event
from tunes.models import (
    AreaOverride,
    ChartRevision,
    LabelOverride,
    LyricReference,
    Melody,
    Phrase,
    Recording,
    RecordingFile,
    Tune,
)
from tunes.recordings.charts import form_bars, form_chart
from tunes.study import study_chart

MOST_QUERIES = 18  # of a first visit, which also fills what is kept; tests/test_queries.py holds later ones to 15
PER_ROUTE = 3  # pages visited of each kind, for each person


@pytest.fixture(scope="module")
def demo(django_db_setup: None, django_db_blocker) -> Iterator[None]:  # type: ignore[no-untyped-def]
    """The demo, loaded once for this module and removed after it."""
    from django.db import transaction

    with django_db_blocker.unblock():
        undo = transaction.atomic()
        undo.__enter__()
        try:
            assert load.load_if_empty(say=lambda line: None)
            yield
        finally:
            transaction.set_rollback(True)
            undo.__exit__(None, None, None)


def test_the_cast(demo: None, db: None) -> None:
    assert Programme.current().is_demo
    assert Ensemble.objects.filter(term__name="This term").count() == 3
    assert (
        Membership.objects.filter(role="player", ensemble__term__name="This term").values("user").distinct().count()
        >= 20
    )
    both = User.objects.filter(memberships__role="instructor").filter(memberships__role="player").distinct()
    assert both.count() == 1  # one instructor sits in another's ensemble
    played = set(Membership.objects.filter(role="player").values_list("instrument", flat=True))
    assert {"trumpet", "alto-sax", "tenor-sax", "trombone", "guitar", "piano", "bass", "drums", "vibraphone"} <= played
    assert load.load_if_empty(say=lambda line: None) is False
    assert len(load.sign_in_lines()) == len(people.SHOWN)


def newest_charts() -> dict[str, dict[str, Chart]]:
    """Tune → version → its newest chart."""
    found: dict[str, dict[str, Chart]] = defaultdict(dict)
    for row in ChartRevision.objects.select_related("version__tune").order_by("number"):
        reading = parse_chart(row.text)
        assert not reading.problems, (row.version.tune.title, reading.problems)
        assert reading.chart is not None
        found[row.version.tune.title][row.version.name] = reading.chart
    return found


def sounding(chart: Chart) -> list[tuple[str, ...]]:
    """The chords of one chorus, bar by bar, as typed."""
    return [
        tuple(slot.symbol.text if slot.symbol else slot.text for slot in chart.bars[at.bar].slots)
        for at in chart.unfold()
    ]


def test_every_tune_has_versions_that_differ(demo: None, db: None) -> None:
    charts = newest_charts()
    assert len(charts) == 12
    for title, versions in charts.items():
        assert 2 <= len(versions) <= 4, title
        for one, other in combinations(versions.values(), 2):
            bars = list(zip_longest(sounding(one), sounding(other)))
            different = sum(1 for mine, theirs in bars if mine != theirs)
            metres = len({bar.metre.text for chart in (one, other) for bar in chart.bars})
            assert different / len(bars) > 0.2 or metres > 1, title


THINGS = {
    "a coda that a jump leads to": lambda chart: (
        any(b.jump and b.jump_to == "coda" for b in chart.bars)
        and chart.bars[chart.unfold()[-1].bar].section == len(chart.sections) - 1
    ),
    "a pickup": lambda chart: chart.bars[0].is_pickup,
    "a bar without a chord": lambda chart: any(slot.text == "N.C." for bar in chart.bars for slot in bar.slots),
    "a comment": lambda chart: any(bar.comment for bar in chart.bars),
    "a change of metre": lambda chart: len({bar.metre for bar in chart.bars}) > 1,
    "a tag": lambda chart: any(section.label == "Tag" for section in chart.sections),
    "a repeat with two endings": lambda chart: any(2 in bar.endings for bar in chart.bars),
}


@pytest.mark.parametrize("thing", THINGS)
def test_a_chart_shows(demo: None, db: None, thing: str) -> None:
    charts = [chart for versions in newest_charts().values() for chart in versions.values()]
    assert any(THINGS[thing](chart) for chart in charts)


def test_instructors_have_overruled(demo: None, db: None) -> None:
    """What they say is what counts, and it is not what was computed (one of them the engine may learn to hear)."""
    labels = list(LabelOverride.objects.select_related("revision", "by"))
    areas = list(AreaOverride.objects.select_related("revision", "by"))
    assert len(labels) >= 2
    assert len(areas) >= 1
    otherwise = []
    for row in labels:
        study = study_chart(row.revision)
        assert row.why
        assert row.by is not None
        assert row.by.memberships.filter(role="instructor").exists()
        assert study.reading(row.event).function.to_json() == row.function
        otherwise.append(study.computed.readings[row.event].function.to_json() != row.function)
    assert any(otherwise)
    for area in areas:
        study = study_chart(area.revision)
        assert area.why
        assert area.by is not None
        assert study.reading(area.first).key.text == area.key
    moved = [study_chart(area.revision).computed.readings[area.first].key.text != area.key for area in areas]
    assert any(moved)


def test_melodies_fit_their_charts_and_are_heard(demo: None, db: None) -> None:
    """Bars full to the last beat (`read_melody` says so), and most notes on the beat belong to their chord."""
    assert Melody.objects.count() == len(MELODIES) == 12
    for title, text in MELODIES.items():
        revision = (
            ChartRevision.objects.filter(version__tune__title=title, version__is_agreed=True).order_by("number").last()
        )
        assert revision is not None
        chart = parse_chart(revision.text).chart
        assert chart is not None
        read_melody(text, chart)
        heard = melody_by_event(revision)
        agree = [
            heard[event.index][0].name.pc in {tone.pc for tone in event.symbol.tones}
            for event in chart.events()
            if event.symbol and event.index in heard
        ]
        assert sum(agree) / len(agree) > 0.6, (title, sum(agree), len(agree))
    assert Phrase.objects.values("tune").distinct().count() == 12
    for tune in Tune.objects.prefetch_related("phrases"):
        bars = len(form_bars(form_chart(tune)))
        covered = [bar for phrase in tune.phrases.all() for bar in range(phrase.first, phrase.last + 1)]
        assert covered == list(range(1, bars + 1)), tune.title


def test_recordings_have_links_and_sound(demo: None, db: None) -> None:
    links = [link for link in Recording.objects.values_list("link", flat=True) if link]
    links += [link for link in LyricReference.objects.values_list("link", flat=True) if link]
    assert len(links) >= 10
    assert all((urlsplit(link).hostname or "").endswith(".example") for link in links)  # RFC 2606: names nobody has
    sounds = list(RecordingFile.objects.select_related("recording"))
    assert len(sounds) >= 5
    for sound in sounds:
        assert sound.recording.marks.exists()
        assert sound.recording.marks.order_by("seconds").last().seconds < sound.duration


def test_somebody_is_still_invited(demo: None, db: None) -> None:
    waiting = Invitation.objects.get(used=None)
    assert waiting.is_open
    assert not waiting.user.has_usable_password()
    assert waiting.user.memberships.filter(role="player").exists()


def test_the_year_is_planned(demo: None, db: None) -> None:
    """Every ensemble has its tunes for this term and the next, in order, the next one counted by this term's players."""
    for name in people.ENSEMBLES.values():
        this, after = (Ensemble.objects.get(name=name, term__name=term) for term in ("This term", "Next term"))
        for ensemble in (this, after):
            rows = planned(ensemble)
            days = [row.known_by for row in rows if row.known_by]
            assert len(rows) >= 2
            assert days == sorted(days)
            assert all(day <= ensemble.term.ends for day in days)
        assert players_for(after).of == this


def addresses(html: str, here: str) -> Iterator[str]:
    """Every address on this site that the page links to."""
    for target in re.findall(r'<a\b[^>]*?\bhref="([^"#]*)', html):
        target = unescape(target)
        if target.startswith("?"):
            target = here.partition("?")[0] + target
        if target.startswith("/") and not target.startswith(("//", "/static/", "/account/")):
            yield target


def walk(client: Client) -> Iterator[str]:
    """Follow links from the start; yields what is wrong with each page."""
    waiting, seen, visited = deque(["/"]), {"/"}, Counter[str]()
    while waiting:
        address = waiting.popleft()
        route = resolve(address.partition("?")[0]).view_name
        if visited[route] >= PER_ROUTE:
            continue
        visited[route] += 1
        with CaptureQueriesContext(connection) as queries:
            response = client.get(address)
        if response.status_code == 302:
            found = [response.headers["Location"]]
        elif response.status_code != 200:
            yield f"{address} answered {response.status_code}"
            continue
        else:
            found = []
            if response.headers.get("Content-Type", "").startswith("text/html") and not response.streaming:
                found = list(addresses(response.content.decode(), address))
            if len(queries) > MOST_QUERIES:
                yield f"{address} ({route}) took {len(queries)} queries"
        for target in found:
            if target not in seen and target.startswith("/"):
                seen.add(target)
                waiting.append(target)


@pytest.mark.parametrize(("email", "role"), people.SHOWN, ids=[email for email, _ in people.SHOWN])
def test_every_page_that_one_can_walk_to(demo: None, db: None, email: str, role: str) -> None:
    client = Client()
    client.force_login(User.objects.get(email=email))
    assert list(walk(client)) == []
