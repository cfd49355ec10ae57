"""Marking again, and answers accepted for everyone."""

from __future__ import annotations

from rest_framework import serializers

from api.serializers.people import PersonSerializer


class NewMarkSerializer(serializers.Serializer):
    attempt = serializers.IntegerField(source="attempt.pk")
    player = PersonSerializer(source="attempt.player")
    question = serializers.CharField(source="question.id")
    answer = serializers.CharField(allow_blank=True)
    before = serializers.FloatField(help_text="As it counts now")
    after = serializers.FloatField()
    rule = serializers.CharField(help_text="Of the marking table")


class RemarkingSerializer(serializers.Serializer):
    stamp = serializers.CharField(help_text="Send it back to mark again exactly what this says")
    changed = serializers.SerializerMethodField(help_text="Questions whose key is another one now")
    marks = NewMarkSerializer(many=True)
    kept = serializers.IntegerField(help_text="Marks given by a person that would differ: they stay")
    being_written = serializers.IntegerField(
        help_text="Goes not handed in yet: they will be marked with the key as it stands now"
    )

    def get_changed(self, found: object) -> list[str]:
        return [question["id"] for question in found.changed]  # type: ignore[attr-defined]


class MarkAgainIn(serializers.Serializer):
    stamp = serializers.CharField(max_length=40)
    only_up = serializers.BooleanField(default=False, help_text="Leave marks that would fall")


class WroteSerializer(serializers.Serializer):
    attempt = serializers.IntegerField(source="attempt.pk")
    player = PersonSerializer(source="attempt.player")
    question = serializers.CharField()
    points = serializers.FloatField(help_text="As they count now")


class AcceptanceSerializer(serializers.Serializer):
    answer = serializers.CharField()
    question = serializers.CharField(source="here.id")
    same = serializers.SerializerMethodField(help_text="Questions where the same stands, this one among them")
    wrote = WroteSerializer(many=True)
    decided = serializers.IntegerField(help_text="Marks of this answer that a person gave already: they stay")

    def get_same(self, found: object) -> list[str]:
        return [question["id"] for question in found.same]  # type: ignore[attr-defined]


class AcceptIn(serializers.Serializer):
    question = serializers.CharField(max_length=40)
    answer = serializers.CharField(max_length=400)
    points = serializers.FloatField(min_value=0, max_value=1, default=1.0)
    reason = serializers.CharField(max_length=400)
    everywhere = serializers.BooleanField(default=False, help_text="At every place where the same stands")


class AcceptedSerializer(serializers.Serializer):
    id = serializers.IntegerField(source="first.pk")
    answer = serializers.CharField(source="first.answer")
    questions = serializers.ListField(child=serializers.CharField())
    points = serializers.FloatField(source="first.points")
    reason = serializers.CharField(source="first.reason")
    by = serializers.CharField(source="first.by.name")
    created = serializers.DateTimeField(source="first.created")


class ChangedSerializer(serializers.Serializer):
    changed = serializers.IntegerField(help_text="How many marks changed")
