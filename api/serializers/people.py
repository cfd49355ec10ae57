from __future__ import annotations

from rest_framework import serializers

from studio.models import Ensemble


class PersonSerializer(serializers.Serializer):
    id = serializers.IntegerField()
    name = serializers.CharField()
    instrument = serializers.CharField()


class EnsembleSerializer(serializers.ModelSerializer[Ensemble]):
    term = serializers.CharField(source="term.name")

    class Meta:
        model = Ensemble
        fields = ("id", "name", "term")


class MeSerializer(PersonSerializer):
    email = serializers.EmailField()
    is_director = serializers.BooleanField()
    leads = EnsembleSerializer(many=True)
    plays_in = EnsembleSerializer(many=True)
    scopes = serializers.ListField(child=serializers.CharField())


class ChairSerializer(serializers.Serializer):
    person = PersonSerializer(source="user")
    role = serializers.CharField()
    instrument = serializers.CharField()
