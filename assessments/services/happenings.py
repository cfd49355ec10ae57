"""What other systems are told of work: ids alone (`studio.happenings`)."""

from __future__ import annotations

from ..models import Attempt


def ids_of(attempt: Attempt) -> dict[str, int]:
    """An attempt whose step and assignment are loaded, and what it belongs to."""
    at = attempt.step.assignment
    return {
        "attempt": attempt.pk,
        "step": attempt.step_id,
        "assignment": at.pk,
        "ensemble": at.ensemble_id,
        "player": attempt.player_id,
    }
