"""The choices of an assignment in the form that marking takes."""

from __future__ import annotations

from drills.marking import Strictness

from .models import Assignment


def strictness_of(assignment: Assignment) -> Strictness:
    """What is marked, how other sound readings count, and whether a new key must be named."""
    return Strictness(
        quality=assignment.strictness == Assignment.Strictness.QUALITY,
        alternatives=assignment.alternatives,
        key_prefix=assignment.key_prefix,
    )
