"""The ledger: what players have done of each tune. Times are ISO 8601 with offset."""

from __future__ import annotations

from rest_framework import serializers

from api.serializers.people import PersonSerializer
from assessments.kinds import KIND_CHOICES
from assessments.models import Evidence
from tunes.models import Tune


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
    missing = serializers.ListField(child=serializers.CharField(), help_text="Asked and not done")
    unasked = serializers.ListField(
        child=serializers.CharField(), help_text="Wanted by the programme, asked by no assignment yet"
    )
    steps = LedgerStepSerializer(many=True)


class OwnCellSerializer(LedgerCellSerializer):
    steps = OwnStepSerializer(many=True)
    work = serializers.ListField(child=serializers.CharField(), help_text="Practised and heard on their own, in words")


class RequirementSerializer(serializers.Serializer):
    kind = serializers.ChoiceField(KIND_CHOICES)
    pass_mark = serializers.IntegerField(
        min_value=0, max_value=100, default=0, help_text="Percent, of kinds that are marked"
    )
    times = serializers.IntegerField(min_value=1, max_value=50, default=1, help_text="Of listening and hand-ins")


class RequirementsSerializer(serializers.Serializer):
    requirements = RequirementSerializer(many=True, max_length=40)  # type: ignore[call-arg]


class LedgerRowSerializer(serializers.Serializer):
    player = PersonSerializer()
    tunes = LedgerCellSerializer(many=True)


class KnownTuneSerializer(serializers.Serializer):
    tune = serializers.IntegerField(source="tune.pk")
    tune_title = serializers.CharField(source="tune.title")
    known = serializers.IntegerField()
    players = serializers.IntegerField()
    everyone = serializers.BooleanField()


class NeedSerializer(serializers.Serializer):
    kind = serializers.CharField(source="name", help_text="The kind of step, as people read it")
    players = serializers.IntegerField(source="undone", help_text="How many of the players have not done it")


class SharedSerializer(serializers.Serializer):
    idiom = serializers.IntegerField(source="idiom.pk")
    name = serializers.CharField(source="idiom.name")
    known_from = serializers.ListField(
        source="known", child=serializers.CharField(), help_text="Titles; none when it is new to them"
    )


class PlannedSerializer(serializers.Serializer):
    id = serializers.IntegerField(source="planned.pk")
    place = serializers.IntegerField(help_text="Its place in the plan, from 1")
    tune = serializers.IntegerField(source="planned.tune_id")
    tune_title = serializers.CharField(source="planned.tune.title")
    known_by = serializers.DateField(
        source="planned.known_by", allow_null=True, help_text="The day it should be known by"
    )
    overdue = serializers.BooleanField()
    known = serializers.IntegerField(help_text="How many of the players know it")
    players = serializers.IntegerField(help_text="How many are counted")
    counted = serializers.IntegerField(
        help_text="The ensemble whose players are counted: the last of its name while it has none itself"
    )
    assignment = serializers.IntegerField(allow_null=True, help_text="Its last assignment to this ensemble")
    undone = NeedSerializer(source="needs", many=True, help_text="Empty with show=progressions")
    has_chart = serializers.BooleanField(
        help_text="Whether an agreed chart can be searched (asked with show=progressions)"
    )
    progressions = SharedSerializer(
        source="shared", many=True, help_text="With show=progressions: those the programme has named"
    )


class PlannedIn(serializers.Serializer):
    tune = serializers.PrimaryKeyRelatedField(queryset=Tune.objects.all())
    known_by = serializers.DateField(allow_null=True, default=None)


class PlannedChange(serializers.Serializer):
    known_by = serializers.DateField(allow_null=True, required=False)
    place = serializers.IntegerField(
        min_value=1, max_value=1000, required=False, help_text="From 1; past the end means last"
    )


class EvidenceSerializer(serializers.ModelSerializer[Evidence]):
    by = serializers.CharField(source="by.name", allow_null=True, default=None)

    class Meta:
        model = Evidence
        fields = ("id", "kind", "percent", "what", "by", "on", "withdraws")
