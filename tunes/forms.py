"""Forms of the repertoire: clear messages that say what to type instead."""

from __future__ import annotations

import re
from typing import Any

from django import forms
from django.utils import timezone

from tunes.harmony.pitch.spelling import Key, SpellingError
from tunes.harmony.progressions.idioms import make_idiom
from tunes.models import ChartRevision, ChartVersion, Idiom, Recording, Tune

FIRST_RECORDING = 1877  # the phonograph
_METRE = re.compile(r"\s*(\d{1,2})\s*/\s*(2|4|8|16)\s*")


def read_key(text: str) -> str:
    """ "Bbm" → "Bb minor", "" stays ""; raises ValidationError with what to type instead."""
    if not text.strip():
        return ""
    try:
        key = Key.parse(text)
    except SpellingError as problem:
        raise forms.ValidationError("This is not a key. Write it as “Eb major”, “F# minor” or “Gm”.") from problem
    if abs(key.fifths) > 7:
        raise forms.ValidationError("No key signature has that many signs. Use the other spelling.")
    return key.text


class TuneForm(forms.ModelForm[Tune]):
    class Meta:
        model = Tune
        fields = (
            "title",
            "composer",
            "key",
            "metre",
            "form",
            "feel",
            "tempo_low",
            "tempo_high",
            "has_lyrics",
            "notes",
        )
        labels = {
            "key": "Key that players expect (concert)",
            "tempo_low": "Tempo from",
            "tempo_high": "Tempo to",
            "has_lyrics": "It has lyrics",
        }
        help_texts = {
            "key": "Such as “Eb major” or “Cm”.",
            "metre": "Such as 4/4, 3/4 or 12/8.",
            "form": "As you call it: AABA, 12-bar blues. Charts tell their own form as well.",
            "feel": "Such as medium swing, ballad, bossa.",
            "tempo_low": "Beats a minute, the slowest that you would call.",
            "tempo_high": "Beats a minute, the fastest that you would call.",
            "notes": "What players should know: where it comes from, traps, how it ends.",
        }
        widgets = {"notes": forms.Textarea(attrs={"rows": 4})}

    def clean_title(self) -> str:
        return " ".join(self.cleaned_data["title"].split())

    def clean_composer(self) -> str:
        return " ".join(self.cleaned_data["composer"].split())

    def clean_key(self) -> str:
        return read_key(self.cleaned_data["key"])

    def clean_metre(self) -> str:
        match = _METRE.fullmatch(self.cleaned_data["metre"])
        if match is None or not 1 <= int(match[1]) <= 32:
            raise forms.ValidationError("Write beats and unit, as 4/4, 3/4 or 12/8.")
        return f"{int(match[1])}/{match[2]}"

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        low, high = data.get("tempo_low"), data.get("tempo_high")
        for name in ("tempo_low", "tempo_high"):
            if data.get(name) is not None and not 20 <= data[name] <= 400:
                self.add_error(name, "A tempo lies between 20 and 400 beats a minute.")
        if low and high and low > high:
            self.add_error("tempo_high", f"The fastest tempo is below the slowest: write {low} or more.")
        title, composer = data.get("title"), data.get("composer") or ""
        if title:
            same = Tune.objects.filter(title__iexact=title, composer__iexact=composer).exclude(pk=self.instance.pk)
            if same.exists():
                self.add_error(
                    "title", "This tune is in the repertoire already. Add a composer to tell two tunes apart."
                )
        return data


class RecordingForm(forms.ModelForm[Recording]):
    link = forms.URLField(
        required=False,
        max_length=500,
        assume_scheme="https",
        help_text="Where players can hear it. The full address, with https://.",
        widget=forms.URLInput(attrs={"placeholder": "https://"}),
    )

    class Meta:
        model = Recording
        fields = ("leader", "album", "year", "key", "tempo", "link", "is_reference", "why")
        labels = {
            "key": "Key (concert)",
            "tempo": "Tempo",
            "is_reference": "This is the programme's reference recording",
            "why": "Why this one",
        }
        help_texts = {
            "leader": "Who leads the band on it.",
            "key": "The key it sounds in, such as “Eb major”.",
            "tempo": "Beats a minute.",
            "is_reference": "The one whose changes, form and melody count. It replaces the reference chosen before.",
            "why": "What to listen for, or why it was chosen as the reference.",
        }

    def clean_key(self) -> str:
        return read_key(self.cleaned_data["key"])

    def clean_year(self) -> int | None:
        year: int | None = self.cleaned_data["year"]
        this_year = timezone.localdate().year
        if year is not None and not FIRST_RECORDING <= year <= this_year:
            raise forms.ValidationError(f"Write a year from {FIRST_RECORDING} to {this_year}.")
        return year

    def clean_tempo(self) -> int | None:
        tempo: int | None = self.cleaned_data["tempo"]
        if tempo is not None and not 20 <= tempo <= 400:
            raise forms.ValidationError("A tempo lies between 20 and 400 beats a minute.")
        return tempo

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("is_reference") and not (data.get("why") or "").strip():
            self.add_error("why", "Say why this one is the reference: it is the first thing that players ask.")
        return data


class RevisionForm(forms.Form):
    """What goes with the text when a chart is saved."""

    name = forms.CharField(
        max_length=80,
        label="Name of this version",
        help_text="Such as “as on the reference” or “ensemble arrangement”.",
    )
    source_kind = forms.ChoiceField(choices=ChartRevision.Source.choices, label="Where the changes come from")
    source_recording = forms.ModelChoiceField(
        Recording.objects.none(), required=False, label="Which recording", empty_label="No recording"
    )
    source_note = forms.CharField(
        max_length=300,
        required=False,
        label="Source note",
        help_text="Chorus, page, who wrote it out, what is doubtful.",
    )
    checked = forms.BooleanField(required=False, label="I have checked every bar against what is played")

    def __init__(self, *args: Any, tune: Tune, version: ChartVersion | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.tune, self.version = tune, version
        self.fields["source_recording"].queryset = tune.recordings.all()  # type: ignore[attr-defined]

    def clean_name(self) -> str:
        name = " ".join(self.cleaned_data["name"].split())
        same = ChartVersion.objects.filter(tune=self.tune, name__iexact=name)
        if self.version is not None:
            same = same.exclude(pk=self.version.pk)
        if same.exists():
            raise forms.ValidationError("This tune has a version of that name. Give this one a name of its own.")
        return name

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("source_kind") == ChartRevision.Source.BY_EAR and not data.get("source_recording"):
            self.add_error("source_recording", "Say which recording it was taken from, or add the recording first.")
        return data


ONCE = "once"
HOLDS = [("every", "Every time this bar sounds"), (ONCE, "This time only")]


class _HoldsForm(forms.Form):
    """For which times of a bar an overrule holds; asked where it sounds more than once."""

    holds = forms.ChoiceField(
        required=False, choices=HOLDS, initial="every", widget=forms.RadioSelect, label="It holds for"
    )

    def __init__(self, *args: Any, others: str = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if others:
            self.fields["holds"].choices = [("every", f"Every time: {others}"), HOLDS[1]]  # type: ignore[attr-defined]
        else:
            self.fields["holds"].widget = forms.HiddenInput()

    @property
    def every_time(self) -> bool:
        return bool(self.cleaned_data["holds"] != ONCE)


class OverruleForm(_HoldsForm):
    """An instructor's own reading of one chord. The text is read by the view, which knows the key."""

    key = forms.CharField(max_length=16, label="Key it is heard in")
    reading = forms.CharField(max_length=60, label="What it is", help_text="In any form: 5 of 2, V7/ii, bVII7, #4 dim.")
    why = forms.CharField(max_length=400, required=False, label="Why", widget=forms.Textarea(attrs={"rows": 2}))
    field_order = ["key", "reading", "holds", "why"]

    def clean_key(self) -> str:
        return read_key(self.cleaned_data["key"])


class AreaForm(_HoldsForm):
    """An instructor's own key for a run of bars."""

    first = forms.IntegerField(min_value=0, widget=forms.HiddenInput)
    last = forms.IntegerField(min_value=0, label="Up to and including")
    key = forms.CharField(max_length=16, label="Key")
    why = forms.CharField(max_length=400, required=False, label="Why", widget=forms.Textarea(attrs={"rows": 2}))

    def clean_key(self) -> str:
        return read_key(self.cleaned_data["key"])


class IdiomForm(forms.ModelForm[Idiom]):
    class Meta:
        model = Idiom
        fields = ("name", "pattern", "notes")
        labels = {"name": "What you call it", "pattern": "The progression, as functions"}
        help_texts = {
            "name": "The class decides: any name that everybody will remember.",
            "pattern": "Degrees with min, maj, dom, half or dim: “2min 5dom 1maj”. A choice: “2min|2half”. "
            "May be left out: “(4min)”. Any chord: “*”. Only in the key itself: “home: 1maj 6dom 2min 5dom”. By distances alone: "
            "“sound: 2min 5dom b2min b5dom”. 1 over 5: “1maj_5”. The bass alone: “_1 _b7 _6”.",
        }
        widgets = {"notes": forms.Textarea(attrs={"rows": 3})}

    def clean_name(self) -> str:
        name = " ".join(self.cleaned_data["name"].split())
        if Idiom.objects.filter(name__iexact=name).exclude(pk=self.instance.pk).exists():
            raise forms.ValidationError("Another idiom has this name already.")
        return name

    def clean_pattern(self) -> str:
        pattern = " ".join(self.cleaned_data["pattern"].split())
        try:
            make_idiom("new", "new", pattern)
        except ValueError as problem:
            raise forms.ValidationError(str(problem)) from problem
        return pattern
