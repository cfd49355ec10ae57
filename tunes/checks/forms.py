"""What is said about a bar."""

from __future__ import annotations

from typing import Any

from django import forms

from tunes.models import BarCheck, Recording, Tune


class WordForm(forms.Form):
    """Agreed or disputed, against which recording, with a note."""

    state = forms.ChoiceField(choices=BarCheck.State.choices)
    recording = forms.ModelChoiceField(Recording.objects.none(), required=False)
    heard = forms.CharField(max_length=120, required=False)
    note = forms.CharField(max_length=400, required=False)

    def __init__(self, *args: Any, tune: Tune, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["recording"].queryset = tune.recordings.all()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("state") == "disputed" and not (data.get("heard") or data.get("note")):
            raise forms.ValidationError("Say what you hear there, or why you doubt the bar.")
        return data


class RestForm(forms.Form):
    """Against which recording the remaining bars were heard."""

    recording = forms.ModelChoiceField(Recording.objects.none(), required=False)

    def __init__(self, *args: Any, tune: Tune, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["recording"].queryset = tune.recordings.all()  # type: ignore[attr-defined]


class SettleForm(forms.Form):
    """How a dispute is decided."""

    decision = forms.ChoiceField(choices=(("keep", "the chart stands"), ("change", "the bar changes")))
    chords = forms.CharField(max_length=120, required=False)
    note = forms.CharField(max_length=400, required=False)

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("decision") == "change" and not data.get("chords", "").strip():
            self.add_error("chords", "Type the chords that the bar shall have.")
        return data
