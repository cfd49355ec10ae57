"""The demo's listening: sound files, form maps, logs, by-ear sheets, bars checked and disputed, phrases. All invented."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import groupby, pairwise
from typing import Any

from django.core.files.uploadedfile import SimpleUploadedFile
from django.utils import timezone

from studio.models import User
from tunes.audio import inspect
from tunes.by_ear import services as by_ear
from tunes.by_ear.compare import compare_sheet
from tunes.by_ear.selectors import readings
from tunes.checks import services as checks
from tunes.demo.melodies import load_melody, load_phrases
from tunes.demo.recorded import MEDIA_TYPE, Recorded, recorded
from tunes.harmony.charts import Chart
from tunes.harmony.pitch.spelling import NoteName
from tunes.models import (
    BarCheck,
    ByEarBar,
    ChartRevision,
    EarResult,
    Listening,
    Recording,
    Tune,
)
from tunes.recordings.form_map import Moment
from tunes.recordings.services import keep_sound, save_marks
from tunes.selectors import revisions_for_study
from tunes.study import chart_of, study_chart

FALLS = {  # semitones that the charted dominant falls → what is heard when the one a tritone away is played
    7: "The bass comes down by a semitone in both choruses.",
    1: "The bass goes down a fifth there, both times; no semitone.",
}
NOTICED = (
    "The bass goes down by step into bar 9; I had always played a fifth there.",
    "Head twice, then three choruses of tenor. The form never stops, not even in the stop-time chorus.",
    "Slower than I thought. The piano leaves the root out of nearly every chord.",
    "Could sing the first phrase after the third time. The second half still slips away.",
    "The turnaround in the last two bars is another one each time round.",
)


def load_hearing(world: Any, tunes: Sequence[Tune]) -> None:
    """Add what has been heard so far to tunes that are there and have no log yet."""
    players = [player for key in world.ensembles for player in world.players(key)]
    leader = world.leader(next(iter(world.ensembles)))
    for number, tune in enumerate(tunes):
        if Listening.objects.filter(recording__tune=tune).exists():
            continue
        recordings = list(tune.recordings.all())
        if not recordings:
            continue
        _log(recordings, players, number, world.today)
        load_phrases(tune)
        revision = _agreed(tune)
        if revision is None:
            continue
        load_melody(tune, revision, leader)
        _sounds(tune, recordings, leader)
        for row in _newest(tune):
            _checks(row, row.source_recording or recordings[0], players, leader, number + row.pk)
        if number in (0, 1, 2):
            _by_ear(revision, recordings[0], players[number], number)
            _runs(tune, players[number])


def _agreed(tune: Tune) -> ChartRevision | None:
    rows = revisions_for_study().filter(version__tune=tune)
    return rows.order_by("-version__is_agreed", "version_id", "-number").first()


def _newest(tune: Tune) -> list[ChartRevision]:
    """The newest revision of every version."""
    rows = revisions_for_study().filter(version__tune=tune).order_by("version_id", "number")
    return list({row.version_id: row for row in rows}.values())


def _log(recordings: Sequence[Recording], players: Sequence[User], number: int, today: dt.date) -> None:
    now = timezone.now()
    rows = []
    for place, player in enumerate(players):
        for turn in range((place + number) % 3):
            rows.append(Listening(
                player=player, recording=recordings[(place + turn) % len(recordings)],
                heard_on=now - dt.timedelta(days=(place * 3 + turn * 5 + number) % 40, hours=place % 11),
                seconds=90 + 37 * ((place + turn) % 7), noticed=NOTICED[(place + turn + number) % len(NOTICED)],
            ))  # fmt: skip
    Listening.objects.bulk_create(rows)


def _sounds(tune: Tune, recordings: Sequence[Recording], leader: User) -> None:
    """The files that the band has played for this tune's recordings, each with the map of where its bars lie."""
    for place, recording in enumerate(recordings):
        file = recorded().get((tune.title, place))
        if file is None:
            continue
        data = file.path.read_bytes()
        upload = SimpleUploadedFile(file.path.name, data, MEDIA_TYPE)
        sound = inspect(upload, len(data))
        keep_sound(recording=recording, upload=upload, sound=sound, by=leader, rights=_rights(file))
        save_marks(
            recording=recording, by=leader,
            moments=[Moment(mark.chorus, mark.bar, round(mark.seconds, 3), mark.label) for mark in file.marks],
        )  # fmt: skip


def _rights(file: Recorded) -> str:
    """Whose it is, and which version each chorus plays."""
    parts = [
        f"{_choruses(list(part))} of the version \u201c{name}\u201d"
        for name, part in groupby(range(len(file.versions)), key=lambda place: file.versions[place])
    ]
    return f"Rendered for this demo by the site's own band, which plays {' and '.join(parts)}. Nobody's rights are touched."


def _choruses(places: Sequence[int]) -> str:
    return f"chorus {places[0] + 1}" if len(places) == 1 else f"choruses {places[0] + 1} to {places[-1] + 1}"


def _checks(revision: ChartRevision, recording: Recording, players: Sequence[User], leader: User, number: int) -> None:
    """Checked charts carry every bar's witness; others are half done, and some have a dispute."""
    bars = checks.counted_bars(chart_of(revision.text))
    now = timezone.now()
    checked = bars if revision.checked else bars[: len(bars) // 2]
    BarCheck.objects.bulk_create(
        BarCheck(revision=revision, bar=bar, by=leader if bar % 2 else players[number % len(players)],
                 recording=recording, state="agreed", created=now - dt.timedelta(days=20 - bar % 7))
        for bar in checked
    )  # fmt: skip
    found = _otherwise(chart_of(revision.text)) if not revision.checked and number % 2 else None
    if found is not None:
        bar, heard, note = found
        BarCheck.objects.create(
            revision=revision, bar=bar, by=players[(number + 1) % len(players)], recording=recording, state="disputed",
            created=now - dt.timedelta(days=3), heard=heard, note=note,
        )  # fmt: skip


def _otherwise(chart: Chart) -> tuple[int, str, str] | None:
    """The last dominant that falls a fifth or a semitone, before the final bar, and the one a tritone away instead.

    Returned: index of its bar, what the bar would then be, and what somebody says about the bass.
    """
    events = [event for event in chart.events() if event.symbol is not None]
    for event, after in reversed(list(pairwise(events))):
        assert event.symbol is not None
        assert after.symbol is not None
        falls = (event.symbol.root.pc - after.symbol.root.pc) % 12
        symbols = [slot.symbol for slot in chart.bars[event.bar].slots if slot.symbol]
        if (
            event.symbol.kind != "dominant"
            or falls not in FALLS
            or event.bar >= len(chart.bars) - 1
            or symbols[-1] != event.symbol
        ):
            continue
        fifths = event.symbol.root.fifths
        root = NoteName.from_fifths(fifths - 6 if fifths > -2 else fifths + 6)
        return event.bar, " ".join([*(symbol.text for symbol in symbols[:-1]), f"{root.text}7"]), FALLS[falls]
    return None


def _by_ear(revision: ChartRevision, recording: Recording, player: User, number: int) -> None:
    """A sheet that is mostly right: a substitute here, a bare bass note there, the end still blank."""
    chart = chart_of(revision.text)
    sheet = by_ear.start_sheet(user=player, revision=revision, recording=recording, way="bass")
    rows = []
    for place, index in enumerate(checks.counted_bars(chart)):
        symbols = [slot.symbol for slot in chart.bars[index].slots if slot.symbol]
        if not symbols or place > 3 * len(chart.bars) // 4:
            continue
        bass = " ".join((symbol.bass or symbol.root).text for symbol in symbols)
        chords = " ".join(symbol.text for symbol in symbols)
        if place % 5 == 3:
            chords = chords.replace("7b9", "7").replace("m7b5", "m7")
        rows.append(ByEarBar(sheet=sheet, bar=index, bass=bass, chords="" if place % 7 == 5 else chords, serial=1))
    ByEarBar.objects.bulk_create(rows)
    if number:
        study = study_chart(revision)
        result = compare_sheet(study, readings(study.chart, rows))
        by_ear.record_comparison(
            sheet=sheet, score=result.score, detail={"asked": result.asked, "filled": result.filled}
        )
        by_ear.set_shared(sheet=sheet, shared=True)


def _runs(tune: Tune, player: User) -> None:
    """Three runs at the form, each a little better."""
    for turn, (score, tempo, silence) in enumerate(((0.62, 96, "none"), (0.81, 96, "growing"), (0.97, 102, "growing"))):
        row = EarResult.objects.create(
            player=player, tune=tune, kind=EarResult.Kind.TOP_OF_FORM, score=score,
            detail={"tempo": tempo, "choruses": 3, "silence": silence, "held": turn == 2, "stray": 0, "off": 0.4},
        )  # fmt: skip
        EarResult.objects.filter(pk=row.pk).update(created=timezone.now() - dt.timedelta(days=9 - 3 * turn))
