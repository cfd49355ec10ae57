"""What people choose on the pages of drills."""

from __future__ import annotations

from typing import Any

from django import forms

from drills.lines.build import STARTS_OF, Recipe
from drills.models import Practice, PracticeHabit
from drills.wishes import Wish
from studio.instruments import instrument_choices
from tunes.harmony.charts.bar_count import bar_count
from tunes.study import StudyChart

TEMPO_LOW, TEMPO_HIGH = 30, 320
KIND_CHOICES = [
    ("guide-tones", "Guide tones"),
    ("arpeggios", "Arpeggios"),
    ("scales", "Scales"),
    ("piano", "The changes at the piano"),
]

# Which field says where a kind begins.
STARTS = {"guide": "guide-tones", "arpeggio": "arpeggios", "scale": "scales", "piano": "piano"}


class DrillForm(forms.Form):
    """The choice of a drill. Fields of the kinds that were not chosen are ignored."""

    kind = forms.ChoiceField(label="Drill", choices=KIND_CHOICES, widget=forms.RadioSelect)
    guide_start = forms.ChoiceField(
        label="Start", required=False, choices=[("", "The smoother line"), ("3", "On the 3rd"), ("7", "On the 7th")]
    )
    voices = forms.ChoiceField(label="Voices", required=False, choices=[("1", "One"), ("2", "Two")])
    ornament = forms.ChoiceField(
        label="Notes of resolution",
        required=False,
        choices=[("none", "Plain"), ("below", "Approached from a semitone below"), ("enclosure", "Enclosed")],
    )
    arpeggio_start = forms.ChoiceField(
        label="Each chord begins",
        required=False,
        choices=[("root", "On its root"), ("third", "On its 3rd"), ("nearest", "On the nearest tone, running on")],
    )
    ninth = forms.BooleanField(label="Up to the 9th", required=False)
    scale_start = forms.ChoiceField(
        label="Each scale begins",
        required=False,
        choices=[("root", "On its root"), ("nearest", "Where the last one left off, running on")],
    )
    piano_start = forms.ChoiceField(
        label="Hands",
        required=False,
        choices=[
            ("shells", "Left hand: root with 3rd or 7th"),
            ("hands", "Two hands: guide tones and a tension right"),
        ],
    )
    direction = forms.ChoiceField(
        label="Direction", required=False, choices=[("up", "Up"), ("down", "Down"), ("alternating", "Alternating")]
    )
    value = forms.ChoiceField(
        label="Notes", required=False, choices=[("quavers", "Eighths"), ("crotchets", "Quarters")]
    )
    part = forms.ChoiceField(label="Part of the form", required=False)
    first_bar = forms.IntegerField(label="From bar", required=False, min_value=1, max_value=9999)
    last_bar = forms.IntegerField(label="To bar", required=False, min_value=1, max_value=9999)
    order = forms.ChoiceField(
        label="Keys", required=False,
        choices=[("one", "One key"), ("fourths", "All twelve, in fourths"), ("half-steps", "All twelve, in half steps"),
                 ("whole-steps", "All twelve, in whole steps"), ("random", "All twelve, in any order")],
    )  # fmt: skip
    tempo = forms.IntegerField(label="Tempo (♩ a minute)", required=False, min_value=TEMPO_LOW, max_value=TEMPO_HIGH)
    instrument = forms.ChoiceField(label="Instrument", required=False)
    written = forms.ChoiceField(label="Pitch", required=False, choices=[("1", "As written"), ("0", "Concert")])
    functions = forms.BooleanField(label="Functions below", required=False)

    def __init__(
        self,
        *args: Any,
        study: StudyChart,
        open_analysis: bool,
        runs: list[tuple[str, str]] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["part"].choices = part_choices(study, open_analysis, runs or [])  # type: ignore[attr-defined]
        self.fields["instrument"].choices = instrument_choices()  # type: ignore[attr-defined]
        for field in self.fields.values():
            field.one_is_enough = True  # type: ignore[attr-defined]  # every choice has a default: none is marked optional
        if not open_analysis:
            del self.fields["functions"]
        if bar_count(study.chart).folded:
            for name in ("first_bar", "last_bar"):
                self.fields[name].help_text = "As written on the chart, where a repeat is written once"

    def wish(self) -> Wish:
        """The wish that a valid form asks for."""
        data = self.cleaned_data
        kind = data["kind"]
        start = {name: f"{word}_start" for word, name in STARTS.items()}[kind]
        part = data.get("part") or ""
        recipe: dict[str, Any] = {
            "kind": kind, "start": data.get(start) or STARTS_OF[kind][0],
            "voices": data.get("voices"), "ornament": data.get("ornament") or "none",
            "direction": data.get("direction") or "up", "value": data.get("value") or "quavers",
            "ninth": data.get("ninth"), "tempo": data.get("tempo") or 120,
        }  # fmt: skip
        if part == "bars":
            recipe |= {"first_bar": data.get("first_bar") or 0, "last_bar": data.get("last_bar") or 0}
        elif part:
            recipe["events"] = tuple(part.split("-"))
        return Wish(
            recipe=Recipe.from_json(recipe),
            instrument=data.get("instrument") or "piano",
            written=(data.get("written") or "1") == "1",
            order=data.get("order") or "one",
            functions=bool(data.get("functions")),
        )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        first, last = data.get("first_bar"), data.get("last_bar")
        if data.get("part") == "bars" and not first:
            self.add_error("first_bar", "Type the first bar to practise.")
        elif data.get("part") == "bars" and last and first and last < first:
            self.add_error("last_bar", f"Type bar {first} or a later one.")
        return data


def part_choices(study: StudyChart, open_analysis: bool, runs: list[tuple[str, str]]) -> list[Any]:
    """Whole form, chosen bars, key areas, named progressions. Key areas are part of the answer key of quizzes."""
    choices: list[Any] = [("", "The whole form"), ("bars", "Chosen bars")]
    if open_analysis:
        count = bar_count(study.chart)
        areas = [
            (f"{area.first}-{area.last}",
             f"{area.key.display}, from {count.name_at(area.first)}")
            for area in study.analysis.areas
        ]  # fmt: skip
        choices.append(("Key areas", areas))
        if runs:
            choices.append(("Progressions", runs))
    return choices


def form_data(wish: Wish) -> dict[str, Any]:
    """A wish as the fields of the form."""
    recipe = wish.recipe
    part = f"{recipe.events[0]}-{recipe.events[1]}" if recipe.events else "bars" if recipe.first_bar else ""
    starts = {
        f"{word}_start": recipe.start if kind == recipe.kind else STARTS_OF[kind][0] for word, kind in STARTS.items()
    }
    return {
        "kind": recipe.kind, **starts,
        "voices": str(recipe.voices), "ornament": recipe.ornament, "ninth": recipe.ninth, "direction": recipe.direction,
        "value": recipe.value, "part": part, "first_bar": recipe.first_bar or None, "last_bar": recipe.last_bar or None,
        "order": wish.order, "tempo": recipe.tempo, "instrument": wish.instrument,
        "written": "1" if wish.written else "0", "functions": wish.functions,
    }  # fmt: skip


class PractisedForm(forms.Form):
    """How it went just now."""

    tempo = forms.IntegerField(label="Tempo reached", min_value=TEMPO_LOW, max_value=TEMPO_HIGH)
    went = forms.ChoiceField(label="How it went", choices=Practice.Went.choices, widget=forms.RadioSelect)
    note = forms.CharField(label="Note to yourself", required=False, max_length=300)
    token = forms.UUIDField(widget=forms.HiddenInput)


class HabitForm(forms.ModelForm):
    class Meta:
        model = PracticeHabit
        fields = ["rest_every", "session"]
        labels = {"rest_every": "Remind me to rest after (minutes)", "session": "Drills in a session"}
        help_texts = {"rest_every": "0: no reminder"}

    rest_every = forms.IntegerField(
        label="Remind me to rest after (minutes)", min_value=0, max_value=120, help_text="0: no reminder"
    )
    session = forms.IntegerField(label="Drills in a session", min_value=1, max_value=20)
