from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from api.models import Token
from api.scopes import SCOPES, SERVICE_SCOPES
from api.tokens import MAX_DAYS
from studio.models import Ensemble


class TokenForm(forms.Form):
    name = forms.CharField(label="What is it for?", max_length=80, help_text="For example: nightly export")
    scopes = forms.MultipleChoiceField(
        label="It may",
        choices=[(s.id, s.sentence) for s in SCOPES],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one thing that the token may do."},
    )
    days = forms.IntegerField(label="Works for how many days", min_value=1, max_value=MAX_DAYS, initial=90)


class ServiceForm(TokenForm):
    """A token of a service; its name is what the log calls it, so no two that work have the same."""

    field_order = ("name", "scopes", "days")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].label = "Name of the service"
        self.fields["name"].help_text = "As the log will call it. For example: student registry"
        self.fields["days"].initial = MAX_DAYS
        scopes: Any = self.fields["scopes"]
        scopes.choices = [(s.id, s.sentence) for s in SERVICE_SCOPES]

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"].strip()
        working = Token.objects.filter(owner=None, revoked=None, expires__gt=timezone.now())
        if working.filter(name__iexact=name).exists():
            raise forms.ValidationError(
                "A service of this name has a token that works. End that one, or choose another name."
            )
        return name


class FeedForm(forms.Form):
    """What a calendar address is about: one's own work, or one ensemble."""

    about = forms.ChoiceField(label="Calendar of")

    def __init__(self, *args: Any, ensembles: list[Ensemble], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ensembles = {str(one.pk): one for one in ensembles}
        self.fields["about"].choices = [  # type: ignore[attr-defined]
            ("own", "What I am asked for"),
            *((key, one.in_term) for key, one in self.ensembles.items()),
        ]

    def clean_about(self) -> Ensemble | None:
        return self.ensembles.get(self.cleaned_data["about"])
