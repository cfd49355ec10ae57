from __future__ import annotations

from django import forms

from api.scopes import SCOPES
from api.tokens import MAX_DAYS


class TokenForm(forms.Form):
    name = forms.CharField(label="What is it for?", max_length=80, help_text="For example: nightly export")
    scopes = forms.MultipleChoiceField(
        label="It may",
        choices=[(s.id, s.sentence) for s in SCOPES],
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one thing that the token may do."},
    )
    days = forms.IntegerField(label="Works for how many days", min_value=1, max_value=MAX_DAYS, initial=90)
