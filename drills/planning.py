"""What to practise next, in what order, how fast, and why. Pure: no database, no clock of its own.

Order: bars missed in quizzes first; then drills that are due, the longest overdue first; then something new. Tunes
are mixed, so that no two drills of one tune follow each other while another is waiting: mixing and spacing helped
retention in several studies of instrumental practice (Carter and Grahn, *Frontiers in Psychology* 7:1251, 2016;
Simmons, *Journal of Research in Music Education* 59, 2012), and made no difference in others (Stambaugh and Demorest
2010), so it is a suggestion. When a drill comes back is settled by FSRS-6 (the `fsrs` library), which was fitted to
flashcards; that it suits motor skills is unproven.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fsrs import Card, Rating, Scheduler

from tunes.harmony.charts.bar_count import BarCount, bars_named, stretch_name

RATINGS = {"fell apart": Rating.Again, "with slips": Rating.Hard, "steady": Rating.Good, "with ease": Rating.Easy}
# How the tempo grows with how it went last time: common practice, no source.
TEMPO_CHANGE = {"fell apart": 0.88, "with slips": 1.0, "steady": 1.04, "with ease": 1.08}
SLOWEST, FASTEST, FIRST_TEMPO = 40, 300, 80
LADDER = ("arpeggios", "guide-tones", "scales")
CUE_GAP = 4
_scheduler = Scheduler(learning_steps=(), relearning_steps=(), enable_fuzzing=False)


@dataclass(frozen=True)
class Planned:
    """One drill of a session. `wish` holds the fields of the page's query; `tempo` in crotchets a minute."""

    revision: int
    tune: int
    tune_title: str
    title: str
    wish: dict[str, Any]
    tempo: int
    why: str
    url: str = ""


@dataclass(frozen=True)
class Known:
    """A drill, or a line in a key, that a player has practised before; `url` where it is no drill of a chart."""

    revision: int
    tune: int
    tune_title: str
    title: str
    kind: str
    wish: dict[str, Any]
    due: dt.datetime
    last: dt.datetime | None
    went: str
    tempo: int | None
    url: str = ""


@dataclass(frozen=True)
class Missed:
    """A bar to come back to, as written, and who says so; `count` names it."""

    revision: int
    tune: int
    tune_title: str
    bar: int
    why: str
    count: BarCount | None = None

    def named(self, first: int, last: int) -> str:
        """A run of written bars by their numbers as played."""
        return self.count.written_stretch(first, last) if self.count else stretch_name(first, last)

    def after(self) -> int:
        """The written bar after it; the bar itself where the chart ends."""
        return min(self.bar + 1, max(self.count.written)) if self.count else self.bar + 1

    @property
    def played(self) -> int:
        """The number as played of the bar."""
        return self.count.sounding_of(self.bar) if self.count else self.bar


@dataclass(frozen=True)
class Taken:
    """What a player took from a solo: printed bars where the recording plays it, and why it is practised."""

    revision: int
    tune: int
    tune_title: str
    bars: tuple[int, ...]
    why: str
    count: BarCount | None = None


def next_card(card: dict[str, Any], went: str, now: dt.datetime) -> tuple[dict[str, Any], dt.datetime]:
    """The scheduler's state after a practice, and when the drill is due again (never within twelve hours)."""
    before = Card.from_dict(card) if card else Card(card_id=1)  # type: ignore[arg-type]
    after, _ = _scheduler.review_card(before, RATINGS[went], now)
    due = max(after.due, now + dt.timedelta(hours=12))
    return dict(after.to_dict()), due


def next_tempo(tempo: int | None, went: str) -> int:
    """The tempo to try next, from the last one and how it went."""
    if tempo is None:
        return FIRST_TEMPO
    return min(max(round(tempo * TEMPO_CHANGE.get(went, 1.0)), SLOWEST), FASTEST)


def plan(
    missed: Iterable[Missed], known: Sequence[Known], now: dt.datetime, size: int = 5, taken: Iterable[Taken] = ()
) -> list[Planned]:
    """The drills of the next session, at most `size`. `taken`: from solos, and not practised yet; they come in turn with what was
    missed, and before what is due."""
    due = sorted((item for item in known if item.due <= now), key=lambda item: item.due)
    chosen = [
        *_in_turn(planned_from_missed(missed), [from_taken(row) for row in taken]),
        *(_from_known(item, now) for item in due),
    ]
    if len(chosen) < size:
        chosen += _something_new(known)
    if len(chosen) < size:
        early = sorted((item for item in known if item.due > now), key=lambda item: item.due)
        chosen += [_from_known(item, now) for item in early]
    return _mixed(chosen[:size])


def _in_turn(first: Sequence[Planned], second: Sequence[Planned]) -> list[Planned]:
    """One of each in turn, then what is left of the longer row."""
    pairs = [one for pair in zip(first, second, strict=False) for one in pair]
    both = len(pairs) // 2
    return [*pairs, *first[both:], *second[both:]]


def planned_from_missed(missed: Iterable[Missed]) -> list[Planned]:
    """One drill for each run of missed bars: the guide tones through them, slowly."""
    runs: list[list[Missed]] = []
    for cue in sorted(missed, key=lambda cue: (cue.revision, cue.bar)):
        if runs and runs[-1][-1].revision == cue.revision and cue.bar - runs[-1][-1].bar <= CUE_GAP:
            runs[-1].append(cue)
        else:
            runs.append([cue])
    drills = []
    for run in runs:
        first, last = max(run[0].bar - 1, 1), run[-1].after()
        drills.append(
            Planned(
                run[0].revision,
                run[0].tune,
                run[0].tune_title,
                f"Guide tones, {run[0].named(first, last)}",
                {"kind": "guide-tones", "first_bar": first, "last_bar": last},
                FIRST_TEMPO,
                f"{run[0].why}, {bars_named(cue.played for cue in run)}.",
            )
        )
    return drills


def from_taken(row: Taken) -> Planned:
    """The scales round the first place where the recording plays it, running on."""
    run = [bar for bar in sorted(set(row.bars)) if bar - min(row.bars) <= CUE_GAP]
    first, last = max(run[0] - 1, 1), run[-1] + 1
    wish = {"kind": "scales", "start": "nearest", "first_bar": first, "last_bar": last}
    count = row.count
    title = f"Scales, {count.written_stretch(first, last) if count else stretch_name(first, last)}"
    return Planned(row.revision, row.tune, row.tune_title, title, wish, FIRST_TEMPO, row.why)


_WENT_WORDS = {"fell apart": "it fell apart, so slower", "with slips": "there were slips, so the same tempo again",
               "steady": "it was steady, so a little faster", "with ease": "it went with ease, so faster"}  # fmt: skip


def _from_known(item: Known, now: dt.datetime) -> Planned:
    tempo = next_tempo(item.tempo, item.went)
    late = (now - item.due).days
    when = (
        "Due today"
        if 0 <= late < 1
        else f"Due {late} {'day' if late == 1 else 'days'} ago"
        if late > 0
        else "Not due yet, but the session has room"
    )
    last = f"; last time {_WENT_WORDS[item.went]}" if item.went in _WENT_WORDS else ""
    return Planned(
        item.revision,
        item.tune,
        item.tune_title,
        item.title,
        item.wish | {"tempo": tempo},
        tempo,
        f"{when}{last}.",
        item.url,
    )


def _something_new(known: Sequence[Known]) -> list[Planned]:
    """For each tune in hand, the next kind of drill that has not been tried."""
    drills = []
    for tune in dict.fromkeys(item.tune for item in known if not item.url):
        of_tune = [item for item in known if item.tune == tune and not item.url]
        tried = {item.kind for item in of_tune}
        fresh = next((kind for kind in LADDER if kind not in tried), None)
        if fresh:
            title = {"arpeggios": "Arpeggios", "guide-tones": "Guide tones", "scales": "Scales"}[fresh]
            first = of_tune[-1]
            drills.append(
                Planned(
                    first.revision,
                    tune,
                    first.tune_title,
                    title,
                    {"kind": fresh},
                    FIRST_TEMPO,
                    f"New: you have not yet practised the {title.lower()} of this tune.",
                )
            )
    return drills


def _mixed(drills: Sequence[Planned]) -> list[Planned]:
    """The same drills, so that the same tune does not come twice in a row while another is waiting."""
    waiting, result = list(drills), list[Planned]()
    while waiting:
        other = next((drill for drill in waiting if not result or drill.tune != result[-1].tune), waiting[0])
        waiting.remove(other)
        result.append(replace(other))
    return result
