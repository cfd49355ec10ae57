"""Saving answers: each arrives once, in any order, from any number of windows, and none is lost.

The rule. A save carries the window's own `client` id and a `sequence` that only rises in that window.
- The same (client, sequence) again is a replay: nothing is written, the standing answer is told.
- A save from the window that wrote last stands if its sequence is higher.
- A save from another window stands if it has seen (`base`) the version that stands now; otherwise it is
  kept in the history as a conflict and the writer is asked which one to keep.
- A save that arrives after hand-in is kept in the history as late.
The attempt's row is locked first, so that two saves of one player go one after the other.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from ..models import Answer, AnswerHistory, Attempt

MAX_TEXT = 400
SAVED, CONFLICT, LATE, UNKNOWN = "saved", "conflict", "late", "unknown"


@dataclass(frozen=True)
class Save:
    """One field as a window sends it. `base` is the version that the window last saw (0: none)."""

    question: str
    text: str
    sequence: int
    base: int = 0


@dataclass(frozen=True)
class Saved:
    """What became of a save, and the answer that stands now (`text`, `version`)."""

    question: str
    sequence: int
    outcome: str
    text: str
    version: int
    saved: datetime | None


@transaction.atomic
def save_answers(
    *, attempt_id: int, player_id: int, client: uuid.UUID, saves: Sequence[Save]
) -> tuple[Attempt, tuple[Saved, ...]]:
    """Save the fields of one window. Raises Attempt.DoesNotExist for someone else's attempt."""
    attempt = (
        Attempt.objects.select_for_update(of=("self",))
        .select_related("step__quiz", "step__assignment")
        .defer("step__quiz__questions", "step__quiz__asked")
        .get(pk=attempt_id, player_id=player_id)
    )
    known = set(attempt.step.quiz.ids)
    ledger = _Ledger(attempt, client, saves)
    results = tuple(
        ledger.take(save)
        if save.question in known
        else Saved(save.question, save.sequence, UNKNOWN, save.text, 0, None)
        for save in sorted(saves, key=lambda s: s.sequence)
    )
    ledger.write()
    return attempt, results


class _Ledger:
    """The rows one batch reads and writes: two reads, two bulk writes, however many fields."""

    def __init__(self, attempt: Attempt, client: uuid.UUID, saves: Sequence[Save]) -> None:
        self.attempt, self.client, self.now = attempt, client, timezone.now()
        self.seen = {
            row.sequence: row
            for row in AnswerHistory.objects.filter(
                attempt=attempt, client=client, sequence__in={s.sequence for s in saves}
            )
        }
        self.standing = {
            row.question: row
            for row in Answer.objects.filter(attempt=attempt, question__in={s.question for s in saves})
        }
        self.history: list[AnswerHistory] = []
        self.changed: dict[str, Answer] = {}

    def take(self, save: Save) -> Saved:
        earlier = self.seen.get(save.sequence)
        outcome = earlier.outcome if earlier else self._decide(save)
        if earlier is None:
            self._keep(save, outcome)
        now = self.standing.get(save.question)
        return Saved(
            save.question,
            save.sequence,
            outcome,
            now.text if now else "",
            now.version if now else 0,
            now.saved if now else None,
        )

    def _decide(self, save: Save) -> str:
        if not self.attempt.is_open:
            return LATE
        now = self.standing.get(save.question)
        if now is None or now.text == save.text[:MAX_TEXT] or save.base >= now.version:
            return SAVED
        return SAVED if now.client == self.client else CONFLICT

    def _keep(self, save: Save, outcome: str) -> None:
        now = self.standing.get(save.question)
        text = save.text[:MAX_TEXT]
        version = (now.version if now else 0) + 1
        row = AnswerHistory(
            attempt=self.attempt,
            question=save.question,
            text=text,
            version=version,
            client=self.client,
            sequence=save.sequence,
            outcome=outcome,
            saved=self.now,
        )
        self.history.append(row)
        self.seen[save.sequence] = row
        overtaken = now is not None and now.client == self.client and now.sequence > save.sequence
        if outcome == SAVED and not overtaken:
            answer = Answer(
                attempt=self.attempt,
                question=save.question,
                text=text,
                version=version,
                client=self.client,
                sequence=save.sequence,
                saved=self.now,
            )
            self.standing[save.question] = self.changed[save.question] = answer

    def write(self) -> None:
        if self.history:
            AnswerHistory.objects.bulk_create(self.history)
        if self.changed:
            Answer.objects.bulk_create(
                self.changed.values(),
                update_conflicts=True,
                unique_fields=["attempt", "question"],
                update_fields=["text", "version", "client", "sequence", "saved"],
            )
