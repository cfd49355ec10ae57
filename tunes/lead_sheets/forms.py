"""What is asked when a lead sheet or a melody comes in."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from studio.keeping import RIGHT_MISSING, KeepsFile
from tunes.harmony.charts import Chart
from tunes.harmony.charts.bar_count import bar_count
from tunes.interchange import ImportReading, Melody, Refused, import_lead_sheet
from tunes.interchange.archive import LIMITS
from tunes.models import ChartVersion, Tune
from tunes.study import ChartUnreadable, chart_of

HELP = f"MusicXML: .musicxml, .xml or .mxl, at most {LIMITS.upload // 2**20} MB."
ACCEPT = ".musicxml,.xml,.mxl,application/vnd.recordare.musicxml+xml,application/vnd.recordare.musicxml"


class LeadSheetForm(forms.Form):
    """A file; `reading` holds what came out of it."""

    file = forms.FileField(label="Lead sheet", help_text=HELP, widget=forms.FileInput(attrs={"accept": ACCEPT}))

    reading: ImportReading

    def clean_file(self) -> UploadedFile:
        file: UploadedFile = self.cleaned_data["file"]
        self.reading = _read(file, chords=True)
        return file


def _read(file: UploadedFile, *, chords: bool) -> ImportReading:
    if (file.size or 0) > LIMITS.upload:
        raise forms.ValidationError(f"The file is too large. {HELP}")
    try:
        return import_lead_sheet(file.read(), chords=chords)
    except Refused as error:
        raise forms.ValidationError(str(error)) from error


class PreviewForm(forms.Form):
    """What becomes of a read lead sheet. A tune may be given; otherwise one is made."""

    text = forms.CharField(max_length=20_000, widget=forms.HiddenInput)
    title = forms.CharField(max_length=120, label="Title")
    composer = forms.CharField(max_length=120, required=False, label="Composer")
    tune = forms.ModelChoiceField(
        Tune.objects.order_by("title"), required=False, label="Version of", empty_label="a new tune"
    )

    def clean_text(self) -> str:
        text: str = self.cleaned_data["text"]
        try:
            chart_of(text)
        except ChartUnreadable as error:
            raise forms.ValidationError(str(error)) from error
        return text

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        title = data.get("title", "")
        if not data.get("tune") and title:
            composer = data.get("composer", "")
            if Tune.objects.filter(title__iexact=title, composer__iexact=composer).exists():
                self.add_error("tune", "The repertoire has this tune already: choose it here.")
        return data


class MelodyForm(KeepsFile):
    """A notation of the melody, the version it belongs to, and the right to keep it."""

    purpose = "melody"

    version = forms.ModelChoiceField(ChartVersion.objects.none(), label="Belongs to")
    file = forms.FileField(label="Notation", help_text=HELP, widget=forms.FileInput(attrs={"accept": ACCEPT}))
    rights = forms.CharField(
        label="What gives the programme the right to keep it",
        min_length=10,
        max_length=400,
        help_text="For example: written by our own class; or free of rights since its writer died more than 70 years ago.",
        widget=forms.Textarea(attrs={"rows": 3, "data-missing": RIGHT_MISSING}),
    )
    allowed = forms.BooleanField(
        label="The programme may keep this notation for its own members.",
        widget=forms.CheckboxInput(attrs={"data-missing": "Without that right the notation cannot be kept."}),
        error_messages={"required": "Without that right the notation cannot be kept."},
    )

    melody: Melody

    def __init__(self, *args: Any, tune: Tune, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["version"].queryset = tune.versions.filter(revisions__isnull=False).distinct()  # type: ignore[attr-defined]
        first = self.fields["version"].queryset.first()  # type: ignore[attr-defined]
        self.fields["version"].initial = first.pk if first else None

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        version, file = data.get("version"), data.get("file")
        if version is None or file is None:
            return data
        try:
            reading = _read(file, chords=False)
        except forms.ValidationError as error:
            self.add_error("file", error)
            return data
        revision = version.revisions.order_by("-number").first()
        problem = _fits(reading, chart_of(revision.text))
        if problem:
            self.add_error("file", problem)
        self.melody = reading.melody
        return data


def _fits(reading: ImportReading, chart: Chart) -> str:
    """Why a melody does not lie over a chart; "" when it does."""
    if not reading.melody.notes:
        return "The file has no notes in its first voice."
    ours, theirs = len(chart.bars), len(reading.chart.bars)
    if ours != theirs:
        return (
            f"The notation has {theirs} bars and the chart {ours}: write repeats and pickup alike in both, "
            "then send it again."
        )
    for index, (mine, other) in enumerate(zip(chart.bars, reading.chart.bars, strict=True)):
        if mine.metre != other.metre:
            named = bar_count(chart).drawn_name(index).capitalize()
            return f"{named} is in {mine.metre.text} on the chart and in {other.metre.text} in the notation."
    return ""
