"""What writes charts: drafts while typing, immutable revisions when saved."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from studio.models import User
from tunes.engine import analyse
from tunes.harmony.analysis.pipeline import Analysis, Function
from tunes.harmony.charts import parse_chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.harmony.problems import Problem
from tunes.models import (
    AreaOverride,
    ChartDraft,
    ChartRevision,
    ChartVersion,
    LabelOverride,
    Recording,
    Tune,
)
from tunes.services.tunes import create_version, rename_version
from tunes.study import chart_of

MAX_TEXT = 20_000  # characters; a 64-bar chart takes about a thousand


class ChartHasProblems(ValueError):
    """The text cannot be saved as a revision; `problems` says where and what to type instead."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__(problems[0].message if problems else "The chart is empty.")
        self.problems = problems


class RevisionConflict(ValueError):
    """Somebody saved a revision after the one that this text was based on; `latest` is theirs."""

    def __init__(self, latest: ChartRevision) -> None:
        super().__init__(f"Revision {latest.number} was saved meanwhile.")
        self.latest = latest


@dataclass(frozen=True)
class DraftOutcome:
    """`draft` as it stands now; `conflict` when another window wrote since and nothing was written."""

    draft: ChartDraft
    conflict: bool = False


def keep_draft(
    *,
    user: User,
    tune: Tune,
    version: ChartVersion | None,
    text: str,
    serial: int,
    based_on: ChartRevision | None = None,
) -> DraftOutcome:
    """Keep what is being typed. `serial` is the one this window last saw, 0 when it saw no draft.

    Writing the same text again changes nothing. A window that has not seen the newest draft is told so
    and overwrites nothing.
    """
    text = text.replace("\x00", "")[:MAX_TEXT]  # PostgreSQL keeps no NUL, and nobody types one
    try:
        with transaction.atomic():
            return _keep(user, tune, version, text, serial, based_on)
    except IntegrityError:  # two first writes at once: the second one now finds the first
        with transaction.atomic():
            return _keep(user, tune, version, text, serial, based_on)


def _keep(
    user: User,
    tune: Tune,
    version: ChartVersion | None,
    text: str,
    serial: int,
    based_on: ChartRevision | None,
) -> DraftOutcome:
    draft = ChartDraft.objects.select_for_update().filter(user=user, tune=tune, version=version).first()
    if draft is None:
        made = ChartDraft.objects.create(user=user, tune=tune, version=version, text=text, based_on=based_on)
        return DraftOutcome(made)
    if draft.text == text:
        return DraftOutcome(draft)
    if draft.serial != serial:
        return DraftOutcome(draft, conflict=True)
    draft.text = text
    draft.serial += 1
    draft.save(update_fields=["text", "serial", "changed"])
    return DraftOutcome(draft)


def discard_draft(*, user: User, tune: Tune, version: ChartVersion | None) -> None:
    ChartDraft.objects.filter(user=user, tune=tune, version=version).delete()


def save_revision(
    *,
    version: ChartVersion,
    text: str,
    by: User | None,
    source_kind: str = ChartRevision.Source.OTHER,
    source_recording: Recording | None = None,
    source_note: str = "",
    checked: bool = False,
    based_on: int | None = None,
) -> ChartRevision:
    """The next immutable revision: text, analysis and engine version, and the overrules that still apply.

    `based_on` is the number of the revision that the person started from; None skips that check. Saving
    again exactly what the latest revision holds returns that revision. Raises `ChartHasProblems`,
    `RevisionConflict`.
    """
    text = normal_text(text)
    analysis = _analysis_or_problems(text)
    with transaction.atomic():
        ChartVersion.objects.select_for_update().get(pk=version.pk)
        latest = version.revisions.order_by("-number").first()
        source = {"source_kind": source_kind, "source_recording": source_recording, "source_note": source_note}
        if latest and latest.text == text and all(getattr(latest, k) == v for k, v in source.items()):
            return latest
        if latest and based_on is not None and latest.number != based_on:
            raise RevisionConflict(latest)
        revision = ChartRevision.objects.create(
            version=version,
            number=latest.number + 1 if latest else 1,
            text=text,
            analysis=analysis.to_json(),
            engine=analysis.engine,
            created_by=by,
            **_checked(checked, by),
            **source,
        )
        if latest:
            revision.left_behind = _carry_overrules(latest, revision)
        if by is not None:
            ChartDraft.objects.filter(user=by, version=version).delete()
    return revision


@transaction.atomic
def save_chart(
    *, tune: Tune, version: ChartVersion | None, name: str, text: str, by: User, **revision: Any
) -> ChartRevision:
    """Save a revision of a version, made (or renamed) on the way. `revision` is passed to `save_revision`.

    Nothing is written when the text has problems: an empty version would be left behind otherwise.
    """
    if version is None:
        version = create_version(tune=tune, name=name, by=by)
        saved = save_revision(version=version, text=text, by=by, **revision)
        discard_draft(user=by, tune=tune, version=None)
        return saved
    if version.name != name:
        rename_version(version=version, name=name)
    return save_revision(version=version, text=text, by=by, **revision)


def normal_text(text: str) -> str:
    """Line ends made one kind, blank space at the end and NUL dropped."""
    return "\n".join(
        line.rstrip()
        for line in text.replace("\x00", "").replace("\r\n", "\n").replace("\r", "\n").strip("\n").split("\n")
    )


def _analysis_or_problems(text: str) -> Analysis:
    if len(text) > MAX_TEXT:
        message = f"The chart is longer than {MAX_TEXT} characters: shorten it."
        raise ChartHasProblems((Problem(message, "", MAX_TEXT, len(text)),))
    reading = parse_chart(text)
    if reading.problems or reading.chart is None:
        raise ChartHasProblems(tuple(reading.problems))
    return analyse(reading.chart)


def _checked(checked: bool, by: User | None) -> dict[str, object]:
    return {"checked": True, "checked_by": by, "checked_on": timezone.now()} if checked else {}


def set_checked(*, revision: ChartRevision, by: User, checked: bool) -> ChartRevision:
    """State that a revision was, or was not, checked against what is played."""
    revision.checked = checked
    revision.checked_by = by if checked else None
    revision.checked_on = timezone.now() if checked else None
    revision.save(update_fields=["checked", "checked_by", "checked_on"])
    return revision


def _carry_overrules(old: ChartRevision, new: ChartRevision) -> tuple[str, ...]:
    """Copy the standing overrules whose chords are still there, at the place where they are now.

    Returned: one sentence for each that has no place in the new text (it stays on the old revision).
    """
    moved = _same_events(old.text, new.text)
    labels = list(old.label_overrides.filter(withdrawn=None).order_by("event"))
    areas = list(old.area_overrides.filter(withdrawn=None).order_by("first"))
    LabelOverride.objects.bulk_create(
        LabelOverride(
            revision=new,
            event=moved[row.event],
            key=row.key,
            function=row.function,
            why=row.why,
            by_id=row.by_id,
            together=row.together,
        )
        for row in labels
        if row.event in moved
    )
    AreaOverride.objects.bulk_create(
        AreaOverride(
            revision=new,
            first=moved[row.first],
            last=moved[row.last],
            key=row.key,
            why=row.why,
            by_id=row.by_id,
            together=row.together,
        )
        for row in areas
        if row.first in moved and row.last in moved
    )
    where = bar_count(chart_of(old.text))
    lost = [
        f"{where.name_at(row.event)}: {Function.from_json(row.function).numeral} in {row.key}"
        + (f" ({row.why})" if row.why else "")
        for row in labels
        if row.event not in moved
    ]
    lost += [
        f"{where.stretch_at(row.first, row.last)}: {row.key}" + (f" ({row.why})" if row.why else "")
        for row in areas
        if row.first not in moved or row.last not in moved
    ]
    return tuple(lost)


def what_stayed_behind(revision: ChartRevision) -> str:
    """What to tell about overrules that did not come along into a revision."""
    return (
        "Overrules whose chord has changed did not come along. They stay on the revision before; overrule again here "
        f"what still holds: {'; '.join(revision.left_behind)}."
    )


def _same_events(old_text: str, new_text: str) -> dict[int, int]:
    """Old event index → new event index, for the chords that both texts share in order."""
    old, new = (
        [event.symbol.text if event.symbol else "" for event in chart_of(text).events()]
        for text in (old_text, new_text)
    )
    blocks = SequenceMatcher(None, old, new, autojunk=False).get_matching_blocks()
    return {block.a + i: block.b + i for block in blocks for i in range(block.size)}
