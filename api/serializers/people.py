from __future__ import annotations

from typing import Any

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


class SchoolIdField(serializers.CharField):
    """The school id of a person: registry data, given to whoever sees it on the pages, "" to all others."""

    def __init__(self, **kwargs: Any) -> None:
        told = "Number in the school's own systems; empty unless a director or a service asks"
        super().__init__(**{"help_text": told, **kwargs})

    def to_representation(self, value: Any) -> str:
        return str(value) if self.context.get("with_ids") else ""


class AddressedSerializer(PersonSerializer):
    email = serializers.CharField(source="address", help_text="Empty while none is known")
    school_id = SchoolIdField()
    active = serializers.BooleanField(source="is_active")


class TermSerializer(serializers.ModelSerializer[Term]):
    class Meta:
        model = Term
        fields = ("id", "name", "starts", "ends")


class ChairPersonSerializer(PersonSerializer):
    email = serializers.SerializerMethodField(help_text="Empty unless the token may read people")
    school_id = SchoolIdField()

    def get_email(self, user: User) -> str:
        return user.address if self.context.get("with_addresses") else ""


class ChairSerializer(serializers.Serializer):
    id = serializers.IntegerField()
    person = ChairPersonSerializer(source="user")
    role = serializers.CharField()
    instrument = serializers.CharField()


class ChairIn(serializers.Serializer):
    person = serializers.EmailField(required=False, help_text="Address of somebody in the programme")
    school_id = serializers.CharField(
        required=False, max_length=80, help_text="School id of somebody in the programme; goes before the address"
    )
    role = serializers.ChoiceField(Membership.Role.choices, default=Membership.Role.PLAYER)
    instrument = serializers.ChoiceField(
        [(key, row.name) for key, row in INSTRUMENTS.items()], default="", allow_blank=True
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """`user` in the place of address and school id."""
        address, number = attrs.pop("person", ""), attrs.pop("school_id", "")
        if not address and not number:
            raise serializers.ValidationError({"person": ["Send an address or a school id."]})
        return {**attrs, "user": _person_of(address, number)}


def _person_of(address: str, number: str) -> User:
    """First by school id, then by address; refused where the two mean different people."""
    people = User.objects.filter(is_active=True)
    found = people.filter(school_id=number).first() if number else None
    other = people.filter(email__iexact=address).first() if address else None
    if found is None and number and other is not None and other.school_id:
        raise serializers.ValidationError({"school_id": [f"{address} is known here with another school id."]})
    if found is not None and other is not None and found.pk != other.pk:
        raise serializers.ValidationError({"person": ["The address and the school id are those of two people."]})
    if (one := found or other) is None:
        field, words = ("person", "address") if address else ("school_id", "school id")
        raise serializers.ValidationError({field: [f"Nobody in the programme has that {words}. Add the person first."]})
    return one
