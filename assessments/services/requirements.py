"""What the programme asks for before a tune counts as learned."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction

from ..models import ProgrammeRequirement


@transaction.atomic
def set_requirements(*, rows: Sequence[ProgrammeRequirement]) -> None:
    """Put these (unsaved) rows in place of all there are."""
    ProgrammeRequirement.objects.all().delete()
    ProgrammeRequirement.objects.bulk_create(rows)
