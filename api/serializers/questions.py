"""Questions on marks and readings, and what one player has of a step that others have not."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.serializers.people import PersonSerializer
from assessments.models import Leeway, Objection, ReadingQuestion


class MarkQuestionSerializer(serializers.ModelSerializer[Objection]):
    player = PersonSerializer(source="attempt.player")
    outcome = serializers.ChoiceField(
        choices=Objection.Outcome.choices, allow_blank=True, help_text="Empty until it is answered"
    )
    answered_by = PersonSerializer(allow_null=True)

    class Meta:
        model = Objection
        fields = (
            "id", "attempt", "player", "question", "about", "text", "created", "outcome", "answer", "answered_by", "answered",
        )  # fmt: skip


class MarkQuestionIn(serializers.Serializer):
    question = serializers.CharField(max_length=40, help_text="Id of the question on the sheet")
    about = serializers.ChoiceField(choices=Objection.About.choices, default=Objection.About.MARK)
    text = serializers.CharField(max_length=1000)
    token = serializers.UUIDField(help_text="The same token asks once")


class MarkAnswerIn(serializers.Serializer):
    outcome = serializers.ChoiceField(
        choices=["kept", "here", "same", "label"],
        help_text="kept: the mark stays; here, same: the answer counts for everyone who wrote it, at this place or wherever "
        "the same stands; label: the reading of the chart is to be overruled (by a call of its own)",
    )
    answer = serializers.CharField(max_length=400)


class ReadingQuestionSerializer(serializers.ModelSerializer[ReadingQuestion]):
    player = PersonSerializer()
    outcome = serializers.ChoiceField(
        choices=ReadingQuestion.Outcome.choices, allow_blank=True, help_text="Empty until it is answered"
    )
    answered_by = PersonSerializer(allow_null=True)

    class Meta:
        model = ReadingQuestion
        fields = (
            "id", "revision", "event", "read_as", "player", "text", "created", "outcome", "answer", "answered_by", "answered",
        )  # fmt: skip
        extra_kwargs = {"read_as": {"help_text": "How the chord was read when it was asked, in concert pitch"}}


class ReadingQuestionIn(serializers.Serializer):
    event = serializers.IntegerField(
        min_value=0, max_value=32767, help_text="Index of the chord among those of the chart"
    )
    text = serializers.CharField(max_length=1000)
    token = serializers.UUIDField(help_text="The same token asks once")


class ReadingAnswerIn(serializers.Serializer):
    outcome = serializers.ChoiceField(
        choices=["kept", "overrule"], help_text="overrule: says so; the overrule itself is a call of its own"
    )
    answer = serializers.CharField(max_length=1000)


class LeewaySerializer(serializers.ModelSerializer[Leeway]):
    player = PersonSerializer()
    by = PersonSerializer()

    class Meta:
        model = Leeway
        fields = ("id", "step", "player", "due", "excused", "reason", "by", "changed")


class LeewayIn(serializers.Serializer):
    player = serializers.IntegerField(help_text="Id of a player of the ensemble")
    steps = serializers.ListField(
        child=serializers.IntegerField(),
        max_length=50,
        required=False,
        help_text="Ids of steps of the assignment; left out: all that are still asked",
    )
    due = serializers.DateTimeField(required=False, allow_null=True, default=None)
    excused = serializers.BooleanField(default=False)
    reason = serializers.CharField(max_length=200, required=False, allow_blank=True, default="")

    def validate(self, body: dict[str, Any]) -> dict[str, Any]:
        if bool(body["due"]) == body["excused"]:
            raise serializers.ValidationError("Give either a later “due” or “excused”: true.")
        return body
