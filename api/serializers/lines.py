"""Lines cut from solos, where they can stand, and onsets to be placed on the bars of a solo."""

from __future__ import annotations

from rest_framework import serializers

from drills.forms import TEMPO_HIGH, TEMPO_LOW
from drills.models import KeptLine, LineKey, Practice


class LineSerializer(serializers.ModelSerializer[KeptLine]):
    tune = serializers.IntegerField(source="solo.revision.version.tune_id", read_only=True)
    player = serializers.CharField(source="solo.player", read_only=True)
    found_by = serializers.CharField(source="by.name", allow_null=True, default=None, read_only=True)
    degrees = serializers.SerializerMethodField(help_text="Over the chords, note by note")

    class Meta:
        model = KeptLine
        fields = ("id", "name", "solo", "tune", "player", "found_by", "functions", "pattern", "degrees", "created")
        read_only_fields = fields

    def get_degrees(self, row: KeptLine) -> list[str]:
        return row.degrees.split()


class LineIn(serializers.Serializer):
    first = serializers.IntegerField(min_value=0, max_value=10_000, help_text="Note of the solo, from 0")
    last = serializers.IntegerField(min_value=0, max_value=10_000)
    name = serializers.CharField(max_length=80, allow_blank=True, default="")


class LineNameIn(serializers.Serializer):
    name = serializers.CharField(max_length=80, allow_blank=True)


TONIC = "Pitch class of the key in concert pitch: 0 is C, 11 is B"


class LineKeySerializer(serializers.ModelSerializer[LineKey]):
    heard_by = serializers.CharField(source="heard_by.name", allow_null=True, default=None, read_only=True)
    state = serializers.CharField(read_only=True, help_text="to do, begun, done or heard")

    class Meta:
        model = LineKey
        fields = ("id", "tonic", "state", "tempo", "last_tempo", "last_went", "last_practised", "times", "due", "heard_by", "heard_on",
                  "heard_tempo")  # fmt: skip
        read_only_fields = fields


class LinePractisedIn(serializers.Serializer):
    tonic = serializers.IntegerField(min_value=0, max_value=11, help_text=TONIC)
    tempo = serializers.IntegerField(min_value=TEMPO_LOW, max_value=TEMPO_HIGH, help_text="Quarter notes a minute")
    went = serializers.ChoiceField(Practice.Went.choices)
    note = serializers.CharField(max_length=300, allow_blank=True, default="")
    token = serializers.UUIDField(allow_null=True, default=None, help_text="Yours: sent twice, it is logged once")


class LineHeardIn(serializers.Serializer):
    player = serializers.IntegerField(min_value=1, max_value=2**63 - 1)
    tonic = serializers.IntegerField(min_value=0, max_value=11, help_text=TONIC)
    tempo = serializers.IntegerField(min_value=TEMPO_LOW, max_value=TEMPO_HIGH)


class LinePlaceSerializer(serializers.Serializer):
    tune = serializers.IntegerField(source="revision.version.tune_id")
    title = serializers.CharField(source="revision.version.tune.title")
    revision = serializers.IntegerField(source="revision.pk")
    bar = serializers.CharField(help_text="In words, as played: bar 5")
    event = serializers.IntegerField(help_text="Where its functions begin: index of the chord in the chart as played")
    fits = serializers.SerializerMethodField()
    why_not = serializers.CharField(help_text="Why it does not fit; empty where it does")

    def get_fits(self, row: object) -> bool:
        return not getattr(row, "why_not", "")


class OnsetIn(serializers.Serializer):
    at = serializers.FloatField(help_text="Seconds in the recording")
    midi = serializers.IntegerField(
        required=False, allow_null=True, help_text="Sounding pitch; none: only the rhythm is known"
    )
    end = serializers.FloatField(required=False, allow_null=True, help_text="Seconds in the recording")


class OnsetsIn(serializers.Serializer):
    onsets = OnsetIn(many=True, max_length=2000)  # type: ignore[call-arg]
    swing = serializers.BooleanField(default=True, help_text="Two notes on the thirds of a beat are eighths")


class SuggestedSerializer(serializers.Serializer):
    notes = serializers.JSONField(help_text="Notes as a solo keeps them, in concert pitch, every one marked as a guess")
    filled = serializers.ListField(
        child=serializers.IntegerField(), help_text="Bars of the solo, from 0, that hold one"
    )
    remarks = serializers.ListField(child=serializers.CharField())
