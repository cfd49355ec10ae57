"""Takes: what a player recorded, and what is said about it at a bar."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from drills.models import Take, TakeComment
from drills.takes.played import Spot, moment, spot_in_words


class TakeSerializer(serializers.ModelSerializer[Take]):
    bars = serializers.SerializerMethodField(help_text="[printed number, start, length, beats, unit], in crotchets")

    class Meta:
        model = Take
        fields = (
            "id", "player", "ensemble", "kind", "revision", "line", "query", "title", "instrument", "tempo", "swing",
            "starts_at", "choruses", "heard_with", "bars", "media_type", "size", "duration", "rubric", "made", "gone", "gone_why",
        )  # fmt: skip
        read_only_fields = fields

    def get_bars(self, take: Take) -> list[Any]:
        return list(take.played.get("bars") or [])


class TakeIn(serializers.Serializer):
    token = serializers.UUIDField(help_text="Yours: the same one twice keeps one take")
    kind = serializers.ChoiceField(Take.Kind.choices)
    revision = serializers.IntegerField(min_value=1, max_value=2**63 - 1, allow_null=True, default=None)
    line = serializers.IntegerField(min_value=1, max_value=2**63 - 1, allow_null=True, default=None)
    query = serializers.CharField(
        max_length=1000, allow_blank=True, default="", help_text="As in the address of the drill, the band or the line"
    )
    tempo = serializers.IntegerField(min_value=30, max_value=320, help_text="Crotchets a minute")
    starts_at = serializers.FloatField(
        min_value=0, max_value=120, help_text="Second of the file where the first bar begins"
    )
    choruses = serializers.IntegerField(min_value=1, max_value=99, default=1)
    swing = serializers.FloatField(min_value=1, max_value=4, default=1.0)
    heard_with = serializers.ChoiceField(Take.HeardWith.choices, default=Take.HeardWith.CLICK)
    made = serializers.DateTimeField(allow_null=True, default=None)
    file = serializers.FileField(help_text="Sound, sent as multipart/form-data; judged by its content")


class TakeCommentSerializer(serializers.ModelSerializer[TakeComment]):
    by = serializers.CharField(source="by.name", read_only=True)
    where = serializers.SerializerMethodField(help_text="The place as players say it")
    at = serializers.SerializerMethodField(help_text="Second of the file")
    spoken = serializers.FloatField(source="seconds", read_only=True, help_text="Seconds that were spoken; 0 for none")

    class Meta:
        model = TakeComment
        fields = ("id", "chorus", "bar", "beat", "where", "at", "text", "spoken", "by", "created", "answer", "answered")
        read_only_fields = fields

    def get_where(self, row: TakeComment) -> str:
        return spot_in_words(row.take, Spot(row.chorus, row.bar, row.beat))

    def get_at(self, row: TakeComment) -> float:
        return round(moment(row.take, Spot(row.chorus, row.bar, row.beat)), 3)


class TakeCommentIn(serializers.Serializer):
    token = serializers.UUIDField(help_text="Yours: the same one twice says it once")
    chorus = serializers.IntegerField(min_value=1, max_value=99, default=1)
    bar = serializers.IntegerField(min_value=0, max_value=9999, help_text="Counted from 0 along the bars of the take")
    beat = serializers.FloatField(
        min_value=0, max_value=64, default=0.0, help_text="Crotchets from the start of the bar"
    )
    text = serializers.CharField(max_length=1000)


class TakeAnswerIn(serializers.Serializer):
    answer = serializers.CharField(max_length=500)
