"""The ledger: what players have done of each tune. Times are ISO 8601 with offset."""
from __future__ import annotations

from rest_framework import serializers

from api.serializers.people import PersonSerializer
from assessments.kinds import KIND_CHOICES
from assessments.models import Evidence


class LedgerStepSerializer(serializers.Serializer):
    kind = serializers.CharField()
    done = serializers.BooleanField()
    best = serializers.IntegerField(allow_null=True)
    count = serializers.IntegerField()
    times = serializers.IntegerField()
    done_on = serializers.DateTimeField(allow_null=True)


class FactSerializer(serializers.Serializer):
    on = serializers.DateTimeField()
    what = serializers.CharField()
    percent = serializers.IntegerField()
    by = serializers.CharField(allow_blank=True)


class OwnStepSerializer(LedgerStepSerializer):
    facts = FactSerializer(many=True, help_text="The evidence that stands")


class LedgerCellSerializer(serializers.Serializer):
    tune = serializers.IntegerField()
    tune_title = serializers.CharField()
    learned = serializers.BooleanField()
    learned_on = serializers.DateTimeField(allow_null=True)
    signed_by = serializers.CharField(allow_blank=True)
    signed_on = serializers.DateTimeField(allow_null=True)
    evidence = serializers.CharField(allow_blank=True)
    missing = serializers.ListField(child=serializers.CharField())
    steps = LedgerStepSerializer(many=True)


class OwnCellSerializer(LedgerCellSerializer):
    steps = OwnStepSerializer(many=True)
    work = serializers.ListField(child=serializers.CharField(), help_text="Practised and heard on their own, in words")


class RequirementSerializer(serializers.Serializer):
    kind = serializers.ChoiceField(KIND_CHOICES)
    pass_mark = serializers.IntegerField(min_value=0, max_value=100, default=0, help_text="Percent, of kinds that are marked")
    times = serializers.IntegerField(min_value=1, max_value=50, default=1, help_text="Of listening and hand-ins")


class RequirementsSerializer(serializers.Serializer):
    requirements = RequirementSerializer(many=True, max_length=40)


class LedgerRowSerializer(serializers.Serializer):
    player = PersonSerializer()
    tunes = LedgerCellSerializer(many=True)


class KnownTuneSerializer(serializers.Serializer):
    tune = serializers.IntegerField(source="tune.pk")
    tune_title = serializers.CharField(source="tune.title")
    known = serializers.IntegerField()
    players = serializers.IntegerField()
    everyone = serializers.BooleanField()


class EvidenceSerializer(serializers.ModelSerializer[Evidence]):
    by = serializers.CharField(source="by.name", allow_null=True, default=None)

    class Meta:
        model = Evidence
        fields = ("id", "kind", "percent", "what", "by", "on", "withdraws")
