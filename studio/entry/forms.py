"""Forms of the director's page about signing in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from studio.entry.rules import GRACE
from studio.models import ClaimRule, Ensemble

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


class SchoolRuleForm(forms.Form):
    """What the director decides about the school's sign-in. `tied`: whether the one who decides came in by it before."""

    create = forms.BooleanField(
        label="Make an account for whoever is not known",
        required=False,
        help_text="Only with an address that the school vouches for. Without chairs they see the tunes and nothing of others.",
    )
    counts = forms.BooleanField(
        label="It counts as a second factor",
        required=False,
        help_text="Tick it when the school asks for one itself. Where its answer says so, it counts in any case.",
    )
    passwords = forms.BooleanField(
        label="The site’s own sign-in works as well",
        required=False,
        help_text="Off: no passwords, letters or passkeys. The way back for a locked-out director: manage.py rescue, at the machine.",
    )

    def __init__(self, *args: Any, tied: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tied = tied

    def clean_passwords(self) -> bool:
        if not self.cleaned_data["passwords"] and not self.tied:
            raise ValidationError("First sign in by the school yourself, so that you know that it lets you in.")
        return bool(self.cleaned_data["passwords"])


class ClaimRuleForm(forms.ModelForm):
    """One more row of the table of claims."""

    class Meta:
        model = ClaimRule
        fields = ["claim", "value", "role", "ensemble"]
        labels = {"claim": "Claim", "value": "Is, or holds", "role": "Then the person", "ensemble": "Ensemble"}
        help_texts = {"claim": "As the school’s sign-in names it: “groups”, “affiliation”."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ensemble"] = EnsembleOfATerm(queryset=Ensemble.objects.running_first(), required=False)
        self.fields["role"].choices = ClaimRule.Role.choices  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        role, ensemble = data.get("role"), data.get("ensemble")
        if role == ClaimRule.Role.DIRECTOR:
            data["ensemble"] = self.instance.ensemble = None
        elif role and not ensemble and "ensemble" not in self.errors:
            self.add_error("ensemble", "Choose the ensemble: players and instructors have a chair in one.")
        same = ClaimRule.objects.filter(
            claim=data.get("claim"), value=data.get("value"), role=role, ensemble=data.get("ensemble")
        )
        if not self.errors and same.exists():
            raise ValidationError("This row stands in the table already.")
        return data


class EnsembleOfATerm(forms.ModelChoiceField):
    """An ensemble, told apart from the one of the same name last term."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(label="Ensemble", empty_label="none (directors)", **kwargs)
        self.one_is_enough = True

    def label_from_instance(self, ensemble: Any) -> str:
        return str(ensemble.in_term)
