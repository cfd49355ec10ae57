"""Solos written out: what they are, and their notes."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from tunes.models import Solo, SoloRevision


class SoloSerializer(serializers.ModelSerializer[Solo]):
    tune = serializers.IntegerField(source="revision.version.tune_id", read_only=True)
    written_by = serializers.CharField(source="written_by.name", read_only=True)

    class Meta:
        model = Solo
        fields = (
            "id",
            "tune",
            "revision",
            "recording",
            "player",
            "instrument",
            "first_chorus",
            "first_bar",
            "last_chorus",
            "last_bar",
            "rights",
            "written_by",
            "shared_with",
            "shared_on",
            "created",
        )
        read_only_fields = fields


class SoloIn(serializers.Serializer):
    revision = serializers.IntegerField(
        min_value=1, max_value=2**63 - 1, help_text="A newest revision of a chart of this tune"
    )
    recording = serializers.IntegerField(min_value=1, max_value=2**63 - 1, allow_null=True, default=None)
    player = serializers.CharField(max_length=120, help_text="Who plays it")
    instrument = serializers.CharField(max_length=20, allow_blank=True, default="", help_text="Such as tenor-sax")
    first_chorus = serializers.IntegerField(min_value=1, max_value=200, default=1)
    first_bar = serializers.IntegerField(min_value=1, max_value=999, default=1)
    last_chorus = serializers.IntegerField(min_value=1, max_value=200)
    last_bar = serializers.IntegerField(min_value=1, max_value=999)
    rights = serializers.CharField(max_length=400, allow_blank=True, default="")


class SoloChangeIn(serializers.Serializer):
    """What is sent changes, the rest stays. Over which chart a solo stands is fixed."""

    shared_with = serializers.IntegerField(
        min_value=1,
        max_value=2**63 - 1,
        allow_null=True,
        required=False,
        help_text="An ensemble of yours; null: nobody",
    )
    recording = serializers.IntegerField(
        min_value=1, max_value=2**63 - 1, allow_null=True, required=False, help_text="Of the same tune; null: none"
    )
    player = serializers.CharField(max_length=120, required=False, help_text="Who plays it")
    instrument = serializers.CharField(max_length=20, allow_blank=True, required=False, help_text="Such as tenor-sax")
    first_chorus = serializers.IntegerField(min_value=1, max_value=200, required=False)
    first_bar = serializers.IntegerField(min_value=1, max_value=999, required=False)
    last_chorus = serializers.IntegerField(min_value=1, max_value=200, required=False)
    last_bar = serializers.IntegerField(min_value=1, max_value=999, required=False)
    rights = serializers.CharField(max_length=400, allow_blank=True, required=False)


class NoteSerializer(serializers.Serializer):
    bar = serializers.IntegerField(help_text="Of the solo, from 1")
    at = serializers.CharField(help_text="Quarter notes into the bar, as a fraction: 1/2")
    length = serializers.CharField(help_text="Quarter notes, as a fraction")
    pitch = serializers.CharField(required=False, help_text="Concert pitch, spelled: Bb4; left out for a rest")
    tuplet = serializers.ListField(
        child=serializers.IntegerField(), required=False, help_text="[3, 2]: three in the time of two"
    )
    tie = serializers.BooleanField(required=False)
    ghost = serializers.BooleanField(required=False)
    guess = serializers.BooleanField(required=False)


class NotesSerializer(serializers.Serializer):
    version = serializers.IntegerField(help_text="1")
    notes = NoteSerializer(many=True, max_length=10_000)  # type: ignore[call-arg]


class SoloRevisionSerializer(serializers.ModelSerializer[SoloRevision]):
    by = serializers.CharField(source="by.name", allow_null=True, default=None)
    notes = serializers.SerializerMethodField()

    class Meta:
        model = SoloRevision
        fields = ("id", "number", "count", "why", "by", "created", "notes")

    def get_notes(self, row: SoloRevision) -> dict[str, Any]:
        return dict(row.notes)
