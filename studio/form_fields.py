"""Form fields that every app may use."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

LARGEST_ID = 2**63 - 1


class ManyChoiceField(forms.ModelMultipleChoiceField):
    """Several rows by their ids; an id that no row can have is refused like any other wrong one.

    Django passes it on to the database, where SQLite fails on it.
    """

    def _check_values(self, value: Any) -> Any:
        for entry in value if isinstance(value, list | tuple) else ():
            if isinstance(entry, str) and entry.isdigit() and int(entry[:40]) > LARGEST_ID:
                raise ValidationError(
                    self.error_messages["invalid_choice"], code="invalid_choice", params={"value": entry[:40]}
                )
        return super()._check_values(value)  # type: ignore[misc]
