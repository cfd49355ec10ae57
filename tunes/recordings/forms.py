"""What is typed about recordings."""

from __future__ import annotations

import datetime as dt
import json
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from studio.keeping import RIGHT_MISSING, KeepsFile
from tunes.audio import ACCEPTED, MAX_BYTES, MAX_SECONDS, Sound, SoundRefused, inspect
from tunes.models import Listening, LyricReference, Phrase
from tunes.recordings.form_map import Moment

MOST_MARKS = 600


class UploadForm(KeepsFile):
    """A sound file and the right to keep it."""

    purpose = "recording"

    file = forms.FileField(
        label="Sound file",
        help_text=f"{ACCEPTED}; at most {MAX_BYTES // 2**20} MB and {MAX_SECONDS // 60} minutes.",
    )
    rights = forms.CharField(
        label="What gives the programme the right to keep it",
        max_length=400,
        min_length=10,
        help_text="For example: our own ensemble, recorded in the hall, players agreed on 3 May.",
        widget=forms.Textarea(attrs={"rows": 3, "data-missing": RIGHT_MISSING}),
    )
    allowed = forms.BooleanField(
        label="The programme may keep this recording and play it to its own members.",
        widget=forms.CheckboxInput(
            attrs={"data-missing": "Without that right the file cannot be kept. Give a link instead."}
        ),
        error_messages={"required": "Without that right the file cannot be kept. Give a link instead."},
    )

    sound: Sound

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        try:
            self.sound = inspect(file, file.size or 0)
        except SoundRefused as error:
            raise forms.ValidationError(str(error)) from error
        return file


class WithSound(UploadForm):
    """The same beside the facts of a recording, where a file may come along: then the right to keep it is asked for."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.required = False
        self.fields["file"].label = "Sound file"
        self.fields["file"].help_text += " Give a link instead where the programme has no right to keep one."

    def clean_file(self) -> UploadedFile:
        return super().clean_file() if self.cleaned_data.get("file") else self.cleaned_data["file"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if data.get("file"):
            if len(data.get("rights", "")) < 10:
                self.add_error("rights", RIGHT_MISSING)
            if not data.get("allowed"):
                self.add_error("allowed", self.fields["allowed"].error_messages["required"])
        return data


class HeardForm(forms.ModelForm[Listening]):
    """One entry of the listening log."""

    class Meta:
        model = Listening
        fields = ("heard_on", "noticed", "seconds")
        labels = {"heard_on": "When", "noticed": "What you noticed"}
        widgets = {
            "heard_on": forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
            "noticed": forms.Textarea(attrs={"rows": 3}),
            "seconds": forms.HiddenInput(),
        }
        help_texts = {"noticed": "Form, tempo, who plays what, what the bass does at the bridge."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["seconds"].required = False
        self.fields["heard_on"].initial = timezone.localtime().replace(second=0, microsecond=0)
        self.fields["noticed"].required = True

    def clean_heard_on(self) -> Any:
        when = self.cleaned_data["heard_on"]
        if when > timezone.now() + dt.timedelta(minutes=10):
            raise forms.ValidationError("That is still to come. Write when you heard it.")
        return when

    def clean_seconds(self) -> int:
        return min(self.cleaned_data.get("seconds") or 0, 6 * 3600)


class MarksForm(forms.Form):
    """The moments of a form map, as JSON: a list of {chorus, bar, seconds, label}."""

    moments = forms.CharField(max_length=100_000)

    def clean_moments(self) -> list[Moment]:
        try:
            rows = json.loads(self.cleaned_data["moments"])
        except (json.JSONDecodeError, RecursionError) as error:
            raise forms.ValidationError("The marks could not be read. Reload the page; they are kept here.") from error
        if not isinstance(rows, list) or len(rows) > MOST_MARKS:
            raise forms.ValidationError(f"A form map has at most {MOST_MARKS} marks.")
        return [self._moment(row) for row in rows]

    @staticmethod
    def _moment(row: Any) -> Moment:
        try:
            seconds = round(float(row["seconds"]), 3)
            moment = Moment(int(row["chorus"]), int(row["bar"]), seconds, str(row.get("label", ""))[:12])
        except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
            raise forms.ValidationError("A mark has a chorus, a bar and a time.") from error
        if not 0 <= seconds < 36_000:
            raise forms.ValidationError("A mark lies outside the recording.")
        return moment


class PhraseForm(forms.ModelForm[Phrase]):
    """One phrase of the melody's section map."""

    class Meta:
        model = Phrase
        fields = ("label", "first", "last", "note")
        labels = {"label": "Letter", "first": "From bar", "last": "To bar", "note": "What marks it"}
        help_texts = {"label": "Equal letters for the same tune: a, a', b."}

    def __init__(self, *args: Any, bars: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.bars = bars

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        first, last = data.get("first"), data.get("last")
        if first and last and first > last:
            self.add_error("last", "A phrase ends where it begins or later.")
        elif last and self.bars and last > self.bars:
            self.add_error("last", f"The chorus has {self.bars} bars.")
        return data


class LyricForm(forms.ModelForm[LyricReference]):
    """First line and link: nothing more of the words is kept."""

    link = forms.URLField(label="Where the words may be read", required=False, max_length=500, assume_scheme="https")

    class Meta:
        model = LyricReference
        fields = ("first_line", "link")
        labels = {"first_line": "First line"}
        help_texts = {"first_line": "Only the first line, to know the song by. Words are under copyright."}

    def clean_first_line(self) -> str:
        line: str = " ".join(self.cleaned_data["first_line"].split())
        if len(line.split()) > 16:
            raise forms.ValidationError("Only the first line: at most sixteen words.")
        return line
