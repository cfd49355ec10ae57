"""What is sent about takes: the recording itself, comments, the programme's rule, an instructor's own words."""

from __future__ import annotations

from typing import Any

from django import forms

from drills.forms import TEMPO_HIGH, TEMPO_LOW
from drills.takes.models import Take
from drills.takes.services import (
    MOST_BYTES,
    MOST_SPOKEN_BYTES,
    MOST_SPOKEN_SECONDS,
    Circumstances,
    Heard,
    looked_at,
)
from studio.form_fields import LARGEST_ID
from tunes.audio import SoundRefused

MOST_WORDS, MOST_ROWS = 8, 8
LONGEST_WORD = 40


class TakeForm(forms.Form):
    """A recording and how it was made. What was to be played is named, never taken from the sender."""

    kind = forms.ChoiceField(choices=Take.Kind.choices)
    revision = forms.IntegerField(required=False, min_value=1, max_value=LARGEST_ID)
    line = forms.IntegerField(required=False, min_value=1, max_value=LARGEST_ID)
    query = forms.CharField(required=False, max_length=1000)
    tempo = forms.IntegerField(min_value=TEMPO_LOW, max_value=TEMPO_HIGH)
    starts_at = forms.FloatField(min_value=0, max_value=120)
    choruses = forms.IntegerField(required=False, min_value=1, max_value=99)
    swing = forms.FloatField(required=False, min_value=1, max_value=4)
    heard_with = forms.ChoiceField(required=False, choices=Take.HeardWith.choices)
    leak = forms.FloatField(required=False, min_value=-200, max_value=20)
    made = forms.DateTimeField(required=False)
    token = forms.UUIDField()
    file = forms.FileField(
        label="Recording", help_text=f"As a browser records it, at most {MOST_BYTES >> 20} MB and 12 minutes."
    )

    def clean_file(self) -> Any:
        self.heard = _looked_at(self.cleaned_data["file"])
        return self.cleaned_data["file"]

    @property
    def about(self) -> Circumstances:
        data = self.cleaned_data
        return Circumstances(
            tempo=data["tempo"],
            starts_at=data["starts_at"],
            choruses=data["choruses"] or 1,
            swing=data["swing"] or 1.0,
            heard_with=data["heard_with"] or Take.HeardWith.CLICK,
            leak=data["leak"],
            made=data["made"],
        )


def _looked_at(upload: Any, **limits: Any) -> Heard:
    try:
        return looked_at(upload, **limits)
    except SoundRefused as refused:
        raise forms.ValidationError(str(refused)) from refused


class SpotForm(forms.Form):
    """A comment at a bar and beat: typed, spoken, or both."""

    chorus = forms.IntegerField(min_value=1, max_value=99)
    bar = forms.IntegerField(min_value=0, max_value=9999)
    beat = forms.FloatField(min_value=0, max_value=64)
    text = forms.CharField(required=False, max_length=1000, label="Comment")
    spoken = forms.FileField(required=False, label="Spoken")
    token = forms.UUIDField()

    def __init__(self, *args: Any, take: Take, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.take = take
        self.heard: Heard | None = None

    def clean_spoken(self) -> Any:
        upload = self.cleaned_data.get("spoken")
        if upload:
            self.heard = _looked_at(upload, bytes_=MOST_SPOKEN_BYTES, seconds=MOST_SPOKEN_SECONDS)
        return upload

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if self.errors:
            return data
        if not data.get("text") and self.heard is None:
            self.add_error("text", "Write something first, or speak.")
        bars = self.take.played.get("bars") or []
        if data["chorus"] > self.take.choruses or data["bar"] >= len(bars):
            self.add_error("bar", f"The take has {self.take.choruses} times {len(bars)} bars.")
        return data


class AnswerForm(forms.Form):
    text = forms.CharField(max_length=500, label="Your answer", error_messages={"required": "Write something first."})


def _lines(text: str) -> list[str]:
    return [line for line in (" ".join(raw.split()) for raw in text.splitlines()) if line]


class QuickWordsForm(forms.Form):
    words = forms.CharField(
        required=False,
        max_length=1000,
        label="Your quick words",
        help_text=f"One to a line, at most {MOST_WORDS}, each at most {LONGEST_WORD} letters.",
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    def clean_words(self) -> list[str]:
        words = _lines(self.cleaned_data["words"])
        if len(words) > MOST_WORDS:
            raise forms.ValidationError(f"These are {len(words)} lines: keep {MOST_WORDS}.")
        if long := next((word for word in words if len(word) > LONGEST_WORD), ""):
            raise forms.ValidationError(f"“{long[:60]}” is longer than {LONGEST_WORD} letters: say it shorter.")
        return words


class RuleForm(forms.Form):
    """How long takes are kept, and the words for a take as a whole."""

    months = forms.IntegerField(
        min_value=0,
        max_value=120,
        label="Keep the sound of a take for so many months",
        help_text="Then the sound is deleted by itself; what was written about it stays. 0: until somebody deletes it.",
    )
    rubric = forms.CharField(
        required=False,
        max_length=2000,
        label="Words for a take as a whole",
        help_text="One question to a line with its words, such as “Time: lost, found again, steady, settled”. None: leave it empty.",
        widget=forms.Textarea(attrs={"rows": 6}),
    )

    def clean_rubric(self) -> list[tuple[str, list[str]]]:
        rows: list[tuple[str, list[str]]] = []
        for line in _lines(self.cleaned_data["rubric"]):
            question, colon, rest = line.partition(":")
            words = [word.strip() for word in rest.split(",") if word.strip()]
            if not colon or not question.strip() or len(words) < 2:
                raise forms.ValidationError(
                    f"“{line[:60]}”: write a question, a colon, and at least two words with commas between them."
                )
            if max(map(len, (question, *words))) > LONGEST_WORD:
                raise forms.ValidationError(f"“{line[:60]}”: each word at most {LONGEST_WORD} letters.")
            rows.append((question.strip(), list(dict.fromkeys(words))))
        if len(rows) > MOST_ROWS or len({question for question, _ in rows}) < len(rows):
            raise forms.ValidationError(f"At most {MOST_ROWS} questions, each of them once.")
        return rows
