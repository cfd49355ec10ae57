"""The page of a take: its staff or chart, where every bar lies in the sound, what was said, what it can be heard beside."""

from __future__ import annotations

from typing import Any
from urllib.parse import parse_qsl

from django.urls import reverse

from drills import sheets
from drills.access import analysis_is_open
from drills.advice.beside import beside_of
from drills.advice.page import advice_of
from drills.engraving import engrave
from drills.lines.passage import EmptyPassage
from drills.models import KeptLine
from drills.sheets import Material
from drills.takes import selectors
from drills.takes.access import may_comment
from drills.takes.making import material_of
from drills.takes.melody import NotOnAStaff, melody_line
from drills.takes.models import Take, TakeComment, TakeRule
from drills.takes.plans import NothingToRecord, line_plan_of, sight_of
from drills.takes.played import Spot, bars_of, chorus_length, moment, spot_in_words
from drills.takes.rule import kept_until
from drills.wishes import Wish
from studio.instruments import CONCERT, INSTRUMENTS
from tunes.access import melody_asked
from tunes.drawing import draw_study
from tunes.models import Recording
from tunes.pitch import Sight, seen
from tunes.recordings.form_map import FormMapProblem, Moment, bar_times

LAYOUTS = (4, 2)  # bars to a system: on a desk, on a phone


def page_of(user: Any, take: Take, beside: str = "") -> dict[str, Any]:
    """Everything that the page of a take needs. `beside`: "take-12" or "recording-5", what it is heard in turn with.

    Raises `ChordsHeld` while its player may not see the chart.
    """
    tune = take.revision.version.tune if take.revision else None
    is_open = analysis_is_open(user, tune) if tune else True
    rule = TakeRule.current()
    others = selectors.others_like(user, take)
    recordings = _recordings(take) if beside.startswith("recording") else []
    for row in others:
        row.is_beside = beside == f"take-{row.pk}"  # type: ignore[attr-defined]
    for one in recordings:
        one["is_beside"] = beside == f"recording-{one['pk']}"
    comments = numbered(take)
    other = _beside(beside, take, others, recordings)
    commenting = may_comment(user, take)
    context: dict[str, Any] = {
        "take": take, "tune": tune, "mine": take.player_id == user.pk, "commenting": commenting, "comments": comments,
        "until": kept_until(rule.months, take.made), "rule": rule, "others": others, "recordings": recordings, "over_form": take.kind in (Take.Kind.CHORUS, Take.Kind.MELODY),
        "wanted": beside.startswith("recording"), "other": other, "instrument": INSTRUMENTS.get(take.instrument, CONCERT).name,
        "quick_words": selectors.quick_words(user) if commenting else [], "bars": bars_of(take),
        "rubric": [(question, words, take.rubric.get(question, "")) for question, words in rule.rubric] if commenting else [],
        "signs_beside": next((beside_of(take, row) for row in others if row.is_beside), None),  # type: ignore[attr-defined]
        "advice": advice_of(take, fetched=True), "take_data": _data(take, comments, other), **_music(user, take, is_open),
    }  # fmt: skip
    return context


def numbered(take: Take) -> list[TakeComment]:
    """The comments in order of the form, each with its `number`, `where` in words and `at` in seconds. One query."""
    found = list(take.comments.select_related("by"))
    bars = len(bars_of(take))
    for number, row in enumerate(found, 1):
        spot = Spot(row.chorus, row.bar, row.beat)
        row.number, row.where = number, spot_in_words(take, spot)  # type: ignore[attr-defined]
        row.at = moment(take, spot) if row.bar < bars else take.starts_at  # type: ignore[attr-defined]
    return found


def _data(take: Take, comments: list[TakeComment], other: dict[str, Any] | None) -> dict[str, Any]:
    """What the page's script needs."""
    return {
        "pk": take.pk, "sound": reverse("drills:take-sound", args=[take.pk]) if not take.gone else "",
        "tempo": take.tempo, "starts_at": take.starts_at, "choruses": take.choruses, "duration": take.duration,
        "bars": bars_of(take), "notes": take.played.get("notes") or [], "swing": take.swing, "times": times_of(take),
        "peaks": take.peaks, "per_second": Take.PEAKS, "other": other,
        "wave": "" if take.peaks or take.gone else reverse("drills:take-wave", args=[take.pk]),
        "comments": [
            {"pk": row.pk, "number": row.number, "chorus": row.chorus, "bar": row.bar, "beat": row.beat}  # type: ignore[attr-defined]
            for row in comments
        ],
    }  # fmt: skip


def times_of(take: Take) -> list[list[float]]:
    """Seconds of every bar line, a row a chorus; each row ends with the end of its last bar."""
    bars, length = bars_of(take), chorus_length(take)
    second = 60 / take.tempo
    return [
        [round(take.starts_at + (chorus * length + at) * second, 3) for at in [*(row[1] for row in bars), length]]
        for chorus in range(take.choruses if bars else 0)
    ]


def _beside(name: str, take: Take, others: list[Take], recordings: list[dict[str, Any]]) -> dict[str, Any] | None:
    """What is heard in turn with the take: {name, sound, times, peaks}; None for nothing."""
    kind, _, number = name.partition("-")
    pk = int(number) if number.isdigit() and len(number) < 12 else 0
    if kind == "take":
        for row in others:
            if row.pk == pk:
                of = "" if row.player_id == take.player_id else f"{row.player.name}, "
                return {
                    "name": f"{of}{row.made:%-d %B}", "sound": reverse("drills:take-sound", args=[pk]),
                    "times": times_of(row), "peaks": row.peaks,
                }  # fmt: skip
    return next((one for one in recordings if kind == "recording" and pk in (0, one["pk"])), None)


def _recordings(take: Take) -> list[dict[str, Any]]:
    """Recordings of the tune with a sound and a form map that fits the chorus. For takes over the whole form only."""
    if take.kind not in (Take.Kind.CHORUS, Take.Kind.MELODY) or take.revision is None:
        return []
    bars = bars_of(take)
    pickups = sum(1 for row in bars if not row[0])
    count = len(bars) - pickups
    rows = Recording.objects.filter(tune=take.revision.version.tune_id, sound__isnull=False, marks__isnull=False)
    found = []
    for row in rows.select_related("sound").prefetch_related("marks").distinct().order_by("-is_reference", "pk")[:4]:
        moments = moments_of_loaded(row)
        try:
            times = bar_times(moments, count, row.sound.duration)
        except FormMapProblem:
            continue
        lines = [[*([one[0]] * pickups), *one, _end(times, at, row.sound.duration)] for at, one in enumerate(times)]
        found.append({
            "pk": row.pk, "name": str(row), "sound": reverse("tunes:recording-sound", args=[row.pk]), "times": lines, "peaks": [],
        })  # fmt: skip
    return found


def moments_of_loaded(recording: Recording) -> Any:
    """As `moments_of`, from marks that were fetched along."""
    return tuple(sorted(Moment(m.chorus, m.bar, m.seconds, m.label) for m in recording.marks.all()))


def _end(times: list[list[float]], at: int, duration: float) -> float:
    if at + 1 < len(times):
        return times[at + 1][0]
    row = times[at]
    bar = (row[-1] - row[0]) / (len(row) - 1) if len(row) > 1 else duration - row[0]
    return min(duration, row[-1] + bar)


def _music(user: Any, take: Take, is_open: bool) -> dict[str, Any]:
    """The engraved staff, once for a desk and once for a phone; or the drawn chart; or why there is neither."""
    try:
        if take.kind == Take.Kind.LINE:
            return _line_music(user, take)
        if take.revision_id is None:
            raise NothingToRecord("The chart it was played from is deleted; the bars are counted as they were.")
        material = material_of(take.revision_id)
        asked = dict(parse_qsl(take.query))
        if take.kind == Take.Kind.DRILL:
            staves = []
            for layout in LAYOUTS:
                wish = Wish.from_query(asked | {"functions": "", "per_system": str(layout)}, instrument=take.instrument)
                staves.append((layout, sheets.sheet(material, wish, open_analysis=is_open).svg))
            return {"staves": staves}
        sight = sight_of(asked, take.instrument)
        staff = _melody_music(user, take, material, sight) if take.kind == Take.Kind.MELODY else {}
        if "staves" in staff:
            return staff
        return {"chart": draw_study(seen(material.study, sight), analysed=False, written_out=True), **staff}
    except (NothingToRecord, EmptyPassage) as problem:
        return {"no_music": str(problem)}


def _melody_music(user: Any, take: Take, material: Material, sight: Sight) -> dict[str, Any]:
    """The staff of the melody; or why its bars stand over the chart instead."""
    if material.melody is None:
        return {"no_staff": "The melody is no longer kept: its bars stand over the chart."}
    if take.player_id == user.pk and melody_asked(user, material.revision.version.tune_id):
        return {"no_staff": "You take this melody down by ear: its notes stand here once you have it."}
    try:
        line = melody_line(material.study, material.melody, sight)
    except NotOnAStaff as problem:
        return {"no_staff": str(problem)}
    return {"staves": [(layout, engrave(line, per_system=layout).svg) for layout in LAYOUTS]}


def _line_music(user: Any, take: Take) -> dict[str, Any]:
    """Who hears the take sees its line, whether or not they may see the solo that it was cut from."""
    row = KeptLine.objects.select_related("solo__revision__version__tune", "kept").filter(pk=take.line_id or 0).first()
    if row is None:
        raise NothingToRecord("The line is thrown away; the bars are counted as they were.")
    plan = line_plan_of(user, row, dict(parse_qsl(take.query)))
    return {"staves": [(layout, engrave(plan.extra["music"], per_system=layout).svg) for layout in LAYOUTS]}
