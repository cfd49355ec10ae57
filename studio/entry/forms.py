"""Forms of the director's page about signing in."""

from __future__ import annotations

from typing import Any

from django import forms

from studio.entry.rules import GRACE

LASTS = (
    ("", "as long as the site keeps it (30 days)"),
    ("336", "14 days"),
    ("168", "7 days"),
    ("24", "1 day"),
    ("12", "12 hours"),
    ("4", "4 hours"),
    ("1", "1 hour"),
)


class RoleRuleForm(forms.Form):
    """What is asked of one role."""

    factor = forms.BooleanField(label="Need a second factor", required=False)
    grace = forms.IntegerField(
        label="Days of grace",
        min_value=0,
        max_value=180,
        required=False,
        help_text="From the day on which it is first asked of a person. 0: at once.",
    )
    hours = forms.ChoiceField(label="Signed in for at most", choices=LASTS, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.one_is_enough = True  # type: ignore[attr-defined]  # no field of it is marked as optional

    def clean_grace(self) -> int:
        grace = self.cleaned_data["grace"]
        return GRACE if grace is None else grace

    def clean_hours(self) -> int | None:
        hours: Any = self.cleaned_data["hours"]
        return int(hours) if hours else None
