"""What is to do and to review: the desk, who is missing, one sheet for the ensemble, the marking table."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.serializers.people import PersonSerializer
from api.serializers.work import StepSerializer
from assessments.kinds import KIND_CHOICES


class StepStateSerializer(serializers.Serializer):
    step = StepSerializer()
    assignment = serializers.IntegerField(source="step.assignment_id")
    assignment_title = serializers.CharField(source="step.assignment.title")
    tune = serializers.IntegerField(source="step.assignment.tune_id")
    tune_title = serializers.CharField(source="step.assignment.tune.title")
    state = serializers.CharField(help_text="to-do, writing, sent, back or done")
    overdue = serializers.BooleanField()
    closed = serializers.BooleanField(help_text="Waits until the tune's changes are taken down by ear")
    goes_left = serializers.IntegerField()
    heard = serializers.IntegerField(help_text="Hearings logged, of listening steps")
    attempt = serializers.IntegerField(source="last.pk", allow_null=True, default=None, help_text="Your latest")
    best = serializers.IntegerField(allow_null=True, help_text="Percent; null until marks may be seen")
    latest = serializers.IntegerField(allow_null=True, help_text="Percent; null until marks may be seen")
    signed_by = serializers.CharField(source="signed.by.name", allow_null=True, default=None)
    answers_come = serializers.CharField(help_text="When marks and answers may be seen, in words")


class MissingSerializer(serializers.Serializer):
    player = PersonSerializer(source="user")
    ensemble = serializers.IntegerField(source="ensemble_id")
    assignment = serializers.IntegerField(source="assignment_id")
    assignment_title = serializers.CharField()
    step = serializers.IntegerField(source="step_id")
    kind = serializers.ChoiceField(KIND_CHOICES, source="step_kind")
    name = serializers.CharField(source="step_name")
    due = serializers.DateTimeField()
    begun = serializers.BooleanField()


class GivenAnswerSerializer(serializers.Serializer):
    text = serializers.CharField(allow_blank=True)
    times = serializers.IntegerField()
    rule = serializers.CharField(help_text="Of the marking table")

    def to_representation(self, row: tuple[str, int, str]) -> dict[str, Any]:
        return dict(zip(("text", "times", "rule"), row, strict=True))


class EnsembleQuestionSerializer(serializers.Serializer):
    question = serializers.CharField(source="question.id")
    prompt = serializers.CharField(source="question.prompt")
    bar = serializers.IntegerField(source="question.played", allow_null=True, default=None, help_text="As played")
    written_bar = serializers.IntegerField(
        source="question.written", allow_null=True, default=None, help_text="As written, which comments take"
    )
    event = serializers.IntegerField(source="question.event", allow_null=True, default=None)
    missed = serializers.IntegerField(help_text="How many players missed it in their latest attempt")
    sheets = serializers.IntegerField()
    answers = GivenAnswerSerializer(many=True, help_text="What they wrote, commonest first")


class ProgressSerializer(serializers.Serializer):
    step = StepSerializer()
    players = serializers.IntegerField()
    sent = serializers.IntegerField()
    late = serializers.IntegerField()
    waiting = serializers.IntegerField(help_text="To review")
    done = serializers.IntegerField()


class MarkingRuleSerializer(serializers.Serializer):
    id = serializers.CharField()
    name = serializers.CharField()
    sentence = serializers.CharField()
    points = serializers.FloatField(help_text="Where only numerals are asked")
    strict_points = serializers.FloatField(help_text="Where the quality is asked too")
    example = serializers.CharField()
    kinds = serializers.ListField(child=serializers.CharField())
    source = serializers.CharField()  # type: ignore[assignment]


class EchoSerializer(serializers.Serializer):
    text = serializers.CharField(help_text="How the answer is understood, never whether it is right")
    ok = serializers.BooleanField(help_text="Whether it could be read")
