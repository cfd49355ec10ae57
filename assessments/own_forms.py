"""Forms of what players do for themselves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet

from tunes.harmony.pitch.spelling import Key
from tunes.models import Idiom, Tune

from .called import twelve
from .own_quiz import MISSED, MIX, PROGRESSION, TUNE, Wish, at_a_chord, names

SOURCES = [
    (MIX, "Tunes of yours, mixed"),
    (TUNE, "One tune"),
    (MISSED, "What I missed in the last month, over all tunes"),
    (PROGRESSION, "One progression, wherever it stands"),
]
MINUTES = [("2", "2 minutes"), ("5", "5 minutes"), ("10", "10 minutes"), ("0", "all of it")]
KEYS = [("", "called by the site"), *((key.tonic.text, key.tonic.display) for key in twelve(Key.parse("C")))]


class TestMeForm(forms.Form):
    """What a player wants to be asked."""

    source = forms.ChoiceField(choices=SOURCES, initial=MIX, label="What", widget=forms.RadioSelect)
    tune = forms.ModelChoiceField(Tune.objects.none(), required=False, label="Tune", empty_label="choose")
    first = forms.IntegerField(required=False, min_value=1, max_value=9999, label="From bar")
    last = forms.IntegerField(required=False, min_value=1, max_value=9999, label="to bar")
    section = forms.CharField(required=False, max_length=12, label="Section that is called")
    progression = forms.ModelChoiceField(
        Idiom.objects.none(), required=False, label="Progression", empty_label="choose"
    )
    kind = forms.ChoiceField(choices=names, label="Asked as")
    minutes = forms.TypedChoiceField(choices=MINUTES, coerce=int, label="How long")
    key = forms.ChoiceField(choices=KEYS, required=False, label="By heart, in concert")

    def __init__(
        self, *args: Any, tunes: QuerySet[Tune], idioms: Sequence[Idiom] | QuerySet[Idiom], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tune"].queryset = tunes  # type: ignore[attr-defined]
        self.fields["progression"].queryset = idioms  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("source") == TUNE and not data.get("tune") and "tune" not in self.errors:
            self.add_error("tune", "Choose which tune.")
        if data.get("source") == PROGRESSION and "progression" not in self.errors:
            if not data.get("progression"):
                self.add_error("progression", "Choose which progression.")
            elif data.get("kind") not in ("any", *at_a_chord()):
                self.add_error("kind", "A progression is asked chord by chord: choose functions, tones or scales.")
        first, last = data.get("first"), data.get("last")
        if last and (not first or last < first):
            self.add_error("last", "The last bar comes before the first: type both, the smaller one first.")
        return data

    def wish(self) -> Wish:
        """What was chosen; only what belongs to the chosen source."""
        data = self.cleaned_data
        one = data["source"] == TUNE
        return Wish(
            source=data["source"],
            kind=data["kind"],
            minutes=data["minutes"],
            tune=data["tune"].pk if one else 0,
            first=(data["first"] or 0) if one else 0,
            last=(data["last"] or 0) if one else 0,
            section=data["section"].strip() if one else "",
            progression=data["progression"].pk if data["source"] == PROGRESSION else 0,
            key=data["key"],
        )
