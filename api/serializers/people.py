from __future__ import annotations

from rest_framework import serializers

from studio.instruments import INSTRUMENTS
from studio.models import Ensemble, Membership, Term, User


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
    service = serializers.CharField(
        help_text="Name of the service that this token is of, whose id is 0; empty for a person"
    )
    leads = EnsembleSerializer(many=True)
    plays_in = EnsembleSerializer(many=True)
    scopes = serializers.ListField(child=serializers.CharField())


class AddressedSerializer(PersonSerializer):
    email = serializers.EmailField()
    active = serializers.BooleanField(source="is_active")


class TermSerializer(serializers.ModelSerializer[Term]):
    class Meta:
        model = Term
        fields = ("id", "name", "starts", "ends")


class ChairSerializer(serializers.Serializer):
    id = serializers.IntegerField()
    person = PersonSerializer(source="user")
    role = serializers.CharField()
    instrument = serializers.CharField()


class ChairIn(serializers.Serializer):
    person = serializers.EmailField(help_text="Address of somebody in the programme")
    role = serializers.ChoiceField(Membership.Role.choices, default=Membership.Role.PLAYER)
    instrument = serializers.ChoiceField(
        [(key, row.name) for key, row in INSTRUMENTS.items()], default="", allow_blank=True
    )

    def validate_person(self, address: str) -> User:
        found = User.objects.filter(is_active=True, email__iexact=address).first()
        if found is None:
            raise serializers.ValidationError("Nobody in the programme has that address. Add the person first.")
        return found
