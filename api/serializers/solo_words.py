"""Words on a solo's notes, what is asked of it, what is read of it, what is taken from it."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from tunes.melody import ROLES
from tunes.models import SoloTaken, SoloWord
from tunes.solos.reading import ReadNote, SoloReading
from tunes.solos.reading_data import name_of_habit

PLACE = "Quarter notes from the first beat of the solo, as a fraction: 7/2"


class SoloWordSerializer(serializers.ModelSerializer[SoloWord]):
    by = serializers.CharField(source="by.name", allow_null=True, default=None, read_only=True)

    class Meta:
        model = SoloWord
        fields = ("id", "kind", "first", "last", "role", "text", "by", "created")
        read_only_fields = fields


class SoloWordIn(serializers.Serializer):
    kind = serializers.ChoiceField(SoloWord.Kind.choices, help_text="role: what a note does; name: of a passage")
    first = serializers.CharField(max_length=24, help_text=f"Onset of the first note. {PLACE}")
    last = serializers.CharField(max_length=24, help_text=f"Onset of the last note. {PLACE}")
    role = serializers.ChoiceField(ROLES, allow_blank=True, default="")
    text = serializers.CharField(max_length=200, allow_blank=True, default="")


class AskIn(serializers.Serializer):
    bars = serializers.ListField(
        child=serializers.IntegerField(min_value=1, max_value=9999), max_length=200, help_text="Of the solo, from 1"
    )


class AskedSerializer(serializers.Serializer):
    bars = serializers.ListField(child=serializers.IntegerField())
    answered = serializers.ListField(child=serializers.IntegerField(), help_text="Those that you have answered")


class TakenSerializer(serializers.ModelSerializer[SoloTaken]):
    class Meta:
        model = SoloTaken
        fields = ("id", "what", "words", "notes", "since")
        read_only_fields = fields


class TakenIn(serializers.Serializer):
    habit = serializers.CharField(max_length=120, allow_blank=True, default="", help_text="Its name, as it is read")
    first = serializers.IntegerField(
        min_value=0, max_value=10_000, allow_null=True, default=None, help_text="Note of the solo, from 0"
    )
    last = serializers.IntegerField(min_value=0, max_value=10_000, allow_null=True, default=None)


class ReadNoteSerializer(serializers.Serializer):
    bar = serializers.SerializerMethodField(help_text="Of the solo, from 1")
    onset = serializers.CharField(source="note.onset", help_text=PLACE)
    pitch = serializers.CharField(source="note.pitch.text", help_text="Concert pitch, spelled")
    told = serializers.SerializerMethodField(help_text="false: the bar is asked, and you have not answered")
    degree = serializers.CharField(source="reading.degree", allow_null=True, help_text="Over the chord; null: no chord")
    role = serializers.CharField(source="reading.role", allow_null=True)
    border = serializers.CharField(source="reading.border", allow_null=True, help_text="early, late, ahead or empty")
    words = serializers.CharField(allow_null=True, help_text="Why, in a sentence")
    source = serializers.CharField(allow_null=True, help_text="Where the rule is from")  # type: ignore[assignment]

    def get_bar(self, one: ReadNote) -> int:
        return one.note.bar + 1

    def get_told(self, one: ReadNote) -> bool:
        return one.note.bar not in self.context["hidden"]

    def to_representation(self, one: ReadNote) -> dict[str, Any]:
        found = super().to_representation(one)
        untold = ("degree", "role", "border", "words", "source")
        return found if found["told"] else found | dict.fromkeys(untold)


class ReadLineSerializer(serializers.Serializer):
    length = serializers.IntegerField(help_text="Intervals")
    first_notes = serializers.ListField(
        source="starts", child=serializers.IntegerField(), help_text="Where it begins: notes of the solo, from 0"
    )


class ReadHabitSerializer(serializers.Serializer):
    name = serializers.SerializerMethodField(help_text="To take it into practice by")
    function = serializers.CharField()
    degree = serializers.CharField()
    times = serializers.IntegerField()
    of = serializers.IntegerField(help_text="Occasions")
    is_habit = serializers.BooleanField(help_text="false: a plain count")
    usual = serializers.FloatField(help_text="Its rate in recorded solos")
    p = serializers.FloatField(help_text="The chance of so many by accident, corrected for what was tried")

    def get_name(self, habit: Any) -> str:
        return name_of_habit(habit)


class SoloReadingSerializer(serializers.Serializer):
    notes = serializers.SerializerMethodField()
    lines = ReadLineSerializer(many=True)
    habits = ReadHabitSerializer(many=True)

    @extend_schema_field(ReadNoteSerializer(many=True))
    def get_notes(self, reading: SoloReading) -> list[dict[str, Any]]:
        rows = ReadNoteSerializer(reading.notes, many=True, context={"hidden": reading.hidden})
        return list(rows.data)
