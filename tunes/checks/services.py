"""What writes bar checks. A revision is "checked" exactly while every bar of it is agreed."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from studio.models import User
from studio.notices import notify_many
from tunes.by_ear.reading import read_chords
from tunes.checks.state import all_agreed, bar_states
from tunes.harmony.charts import Bar, Chart, Slot, write_chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.models import BarCheck, ChartRevision, ChartVersion, Recording, Tune
from tunes.services.charts import save_chart, save_revision, set_checked
from tunes.study import chart_of


class CannotSettle(ValueError):
    """The settlement cannot be made; the message says what to do."""


@transaction.atomic
def save_and_check(
    *,
    tune: Tune,
    version: ChartVersion | None,
    by: User,
    checked: bool,
    source_recording: Recording | None,
    **chart: Any,
) -> ChartRevision:
    """Save a chart as its next revision, with the words on bars that stayed as they were.

    `checked`: this person agrees, against that recording, to every bar nobody has spoken about; the revision counts
    as checked once no bar is left open or disputed. `chart` is passed to `save_chart`, whose refusals are raised.
    """
    revision = save_chart(tune=tune, version=version, by=by, source_recording=source_recording, **chart)
    carry_words(revision=revision, by=by)
    if checked:
        agree_to_rest(revision=revision, by=by, recording=source_recording)
    return revision


def counted_bars(chart: Chart) -> list[int]:
    """Indices of the bars that are checked: all but the pickup."""
    return [index for index, bar in enumerate(chart.bars) if not bar.is_pickup]


def say(
    *,
    revision: ChartRevision,
    bar: int,
    by: User,
    state: str,
    recording: Recording | None,
    heard: str = "",
    note: str = "",
) -> BarCheck:
    """A person's word on one bar; a later word of the same person replaces the earlier one."""
    with transaction.atomic():
        ChartRevision.objects.select_for_update().get(pk=revision.pk)
        row, _made = BarCheck.objects.update_or_create(
            revision=revision, bar=bar, by=by,
            defaults={
                "state": state, "recording": recording, "heard": heard, "note": note, "created": timezone.now(),
                "carried": False, "settled": None, "settled_by": None, "settled_note": "",
            },
        )  # fmt: skip
        refresh_checked(revision=revision, by=by)
    return row


def agree_to_rest(*, revision: ChartRevision, by: User, recording: Recording | None) -> int:
    """Agree to every bar that nobody has spoken about yet; returns how many."""
    with transaction.atomic():
        ChartRevision.objects.select_for_update().get(pk=revision.pk)
        chart = chart_of(revision.text)
        states = bar_states(revision.bar_checks.all(), counted_bars(chart))
        now = timezone.now()
        rows = [
            BarCheck(revision=revision, bar=bar, by=by, recording=recording, state="agreed", created=now)
            for bar, state in states.items()
            if state.name == "open"
        ]
        BarCheck.objects.bulk_create(rows)
        refresh_checked(revision=revision, by=by)
    return len(rows)


def withdraw(*, check: BarCheck) -> None:
    """Take one's own word back."""
    with transaction.atomic():
        revision = ChartRevision.objects.select_for_update().get(pk=check.revision_id)
        by = check.by
        check.delete()
        refresh_checked(revision=revision, by=by)


def refresh_checked(*, revision: ChartRevision, by: User) -> None:
    """Set or lift the revision's "checked" to fit its bars."""
    rows = BarCheck.objects.filter(revision=revision)
    checked = all_agreed(bar_states(rows, counted_bars(chart_of(revision.text))))
    if checked != revision.checked:
        set_checked(revision=revision, by=by, checked=checked)


def settle(*, check: BarCheck, by: User, chords: str, note: str) -> ChartRevision:
    """Decide a dispute. With `chords` the bar is rewritten and a new revision made; without, the chart stands.

    Every open dispute of that bar is settled. Words on bars that stay as they were go over to the new
    revision. Raises `CannotSettle`.
    """
    with transaction.atomic():
        revision = ChartRevision.objects.select_for_update().select_related("version__tune").get(pk=check.revision_id)
        if revision.version.revisions.filter(number__gt=revision.number).exists():
            raise CannotSettle("A newer revision exists already: settle the dispute there.")
        now = timezone.now()
        standing = BarCheck.objects.filter(revision=revision, bar=check.bar, state="disputed", settled=None)
        _tell([row.by for row in standing.select_related("by") if row.by_id != by.pk], revision, check.bar, chords)
        standing.update(settled=now, settled_by=by, settled_note=note)
        if not chords.strip():
            refresh_checked(revision=revision, by=by)
            return revision
        made = save_revision(
            version=revision.version,
            text=with_bar(revision.text, check.bar, chords),
            by=by,
            source_kind=revision.source_kind,
            source_recording=check.recording or revision.source_recording,
            source_note=f"{_named(revision, check.bar).capitalize()} settled. {note}".strip()[:300],
            based_on=revision.number,
        )
        if made.pk != revision.pk:
            carry_words(revision=made, by=by)
            BarCheck.objects.create(
                revision=made, bar=check.bar, by=by, recording=check.recording, state="agreed", created=now
            )
        refresh_checked(revision=made, by=by)
    return made


def _tell(people: list[User], revision: ChartRevision, index: int, chords: str) -> None:
    """Tell those who disputed a bar what became of it. Not with which chords: a notice is read, and goes out by mail,
    also while the chart is closed to its reader."""
    tune = revision.version.tune
    decided = "the bar was changed" if chords.strip() else "the chart stands"
    text = f"{tune.title}, {_named(revision, index)}, which you disputed, is settled: {decided}."
    notify_many(people, "settled", text, reverse("tunes:version", args=[tune.pk, revision.version_id]))


def _named(revision: ChartRevision, index: int) -> str:
    """What the bar at an index is called."""
    return bar_count(chart_of(revision.text)).drawn_name(index)


def with_bar(text: str, index: int, chords: str) -> str:
    """The chart text with one bar rewritten. Raises `CannotSettle` when the chords cannot be read."""
    chart = chart_of(text)
    bar: Bar = chart.bars[index]
    reading = read_chords(chords, bar.metre)
    if reading.problem or not reading.soundings:
        raise CannotSettle(reading.problem or "Type the chords of the bar, such as Dm7 G7.")
    slots = tuple(Slot(s.chord, s.start, s.duration, s.text) for s in reading.soundings)
    new = replace(bar, slots=slots, copied=False, copy_span=0, copy_index=0)
    bars = [*chart.bars[:index], new, *chart.bars[index + 1 :]]
    return write_chart(replace(chart, bars=tuple(_uncopied(bars, index))))


def _uncopied(bars: list[Bar], index: int) -> list[Bar]:
    """Bars that were typed as a repeat of the rewritten one are written out, so that they keep their chords."""
    following = index + 1
    while following < len(bars) and bars[following].copied:
        bars[following] = replace(bars[following], copied=False, copy_span=0, copy_index=0)
        following += 1
    return bars


def carry_words(*, revision: ChartRevision, by: User) -> int:
    """Words on the revision before that still fit: those on bars that are as they were. Returns how many.

    Nothing is carried when bars came or went, nor twice.
    """
    old = revision.version.revisions.filter(number__lt=revision.number).order_by("-number").first()
    if old is None or revision.bar_checks.exists():
        return 0
    before, after = chart_of(old.text), chart_of(revision.text)
    if len(before.bars) != len(after.bars):
        return 0
    rows = [
        BarCheck(
            revision=revision, bar=row.bar, by_id=row.by_id, recording_id=row.recording_id, state=row.state,
            heard=row.heard, note=row.note, created=row.created, carried=True, settled=row.settled,
            settled_by_id=row.settled_by_id, settled_note=row.settled_note,
        )
        for row in old.bar_checks.all()
        if _sounds(before, row.bar) == _sounds(after, row.bar)
    ]  # fmt: skip
    with transaction.atomic():
        BarCheck.objects.bulk_create(rows)
        refresh_checked(revision=revision, by=by)
    return len(rows)


def _sounds(chart: Chart, index: int) -> object:
    bar = chart.bars[index]
    return bar.metre, tuple(
        (slot.symbol, slot.text if slot.symbol is None else "", slot.start, slot.duration) for slot in bar.slots
    )
