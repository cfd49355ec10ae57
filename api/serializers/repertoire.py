"""What hangs on tunes and charts: idioms, checked bars, lead sheets, melodies, sound and form maps."""

from __future__ import annotations

from typing import Any, ClassVar

from rest_framework import serializers

from api.serializers.tunes import ByForm
from tunes.forms import IdiomForm
from tunes.models import BarCheck, FormMark, Idiom, Listening, Melody, Recording
from tunes.recordings.forms import MOST_MARKS


class IdiomSerializer(serializers.ModelSerializer[Idiom]):
    class Meta:
        model = Idiom
        fields = ("id", "name", "pattern", "notes")
        validators: list[Any] = []


class IdiomIn(ByForm, IdiomSerializer):
    form = IdiomForm

    class Meta(IdiomSerializer.Meta):
        extra_kwargs: ClassVar[dict[str, Any]] = {"name": {"validators": []}}


class IdiomTotalSerializer(serializers.Serializer):
    id = serializers.IntegerField(source="idiom.pk")
    name = serializers.CharField(source="idiom.name")
    pattern = serializers.CharField(source="idiom.pattern")
    notes = serializers.CharField(source="idiom.notes", allow_blank=True)
    places = serializers.IntegerField(help_text="Of charts that you may see the functions of")
    tunes = serializers.IntegerField()
    problem = serializers.CharField(allow_blank=True, help_text="Why the pattern can't be read")


class PlaceSerializer(serializers.Serializer):
    tune = serializers.IntegerField(source="tune.pk")
    tune_title = serializers.CharField(source="tune.title")
    version = serializers.IntegerField(source="version_id")
    revision = serializers.IntegerField(source="number", help_text="Number of the revision")
    section = serializers.CharField(allow_blank=True)
    first_bar = serializers.IntegerField(help_text="As played")
    last_bar = serializers.IntegerField(help_text="As played")
    written_first_bar = serializers.IntegerField(help_text="The same as written")
    written_last_bar = serializers.IntegerField(help_text="The same as written")
    key = serializers.CharField(source="key.text")
    of = serializers.CharField(allow_blank=True, allow_null=True)
    wraps = serializers.BooleanField(help_text="Runs through the repeat of the form")
    chords = serializers.SerializerMethodField()

    def get_chords(self, place: Any) -> list[str]:
        return [symbol.text if symbol else "" for symbol in place.symbols]


class WordSerializer(serializers.ModelSerializer[BarCheck]):
    by = serializers.CharField(source="by.name")
    settled_by = serializers.CharField(source="settled_by.name", allow_null=True, default=None)

    class Meta:
        model = BarCheck
        fields = (
            "id",
            "revision",
            "bar",
            "state",
            "recording",
            "heard",
            "note",
            "by",
            "created",
            "carried",
            "settled",
            "settled_by",
            "settled_note",
        )
        extra_kwargs = {"bar": {"help_text": "Position among the written bars, from 0"}}


class WordIn(serializers.Serializer):
    bar = serializers.IntegerField(min_value=0, max_value=9999, help_text="Position among the written bars, from 0")
    state = serializers.ChoiceField(BarCheck.State.choices)
    recording = serializers.PrimaryKeyRelatedField(queryset=Recording.objects.all(), allow_null=True, default=None)
    heard = serializers.CharField(max_length=120, allow_blank=True, default="", help_text="What is played instead")
    note = serializers.CharField(max_length=400, allow_blank=True, default="")


class RestIn(serializers.Serializer):
    recording = serializers.PrimaryKeyRelatedField(queryset=Recording.objects.all(), allow_null=True, default=None)


class RestOut(serializers.Serializer):
    agreed = serializers.IntegerField(help_text="Bars that nobody had spoken about")
    checked = serializers.BooleanField(help_text="Whether every bar is agreed now")


class SettleIn(serializers.Serializer):
    decision = serializers.ChoiceField([("keep", "The chart stands"), ("change", "The bar changes")])
    chords = serializers.CharField(max_length=120, allow_blank=True, default="", help_text="What the bar shall have")
    note = serializers.CharField(max_length=400, allow_blank=True, default="")


class FileIn(serializers.Serializer):
    file = serializers.FileField(help_text="MusicXML: .musicxml, .xml or .mxl, as multipart/form-data")


class LossSerializer(serializers.Serializer):
    what = serializers.CharField()
    bar = serializers.IntegerField(allow_null=True, help_text="Of the chart; null: the whole file")
    detail = serializers.CharField(allow_blank=True)


class LeadSheetSerializer(serializers.Serializer):
    title = serializers.CharField(allow_blank=True)
    composer = serializers.CharField(allow_blank=True)
    text = serializers.CharField(help_text="The chart, ready to be sent as a version of a tune")
    remark = serializers.CharField(allow_blank=True, help_text="A doubt about the key")
    losses = LossSerializer(many=True, help_text="What the file said that a chart can't keep")


class MelodySerializer(serializers.ModelSerializer[Melody]):
    by = serializers.CharField(source="by.name", allow_null=True, default=None)

    class Meta:
        model = Melody
        fields = ("id", "version", "rights", "source_name", "by", "created")


class KeepIn(serializers.Serializer):
    file = serializers.FileField(help_text="As multipart/form-data; judged by its content")
    rights = serializers.CharField(
        min_length=10, max_length=400, help_text="What gives the programme the right to keep it"
    )
    allowed = serializers.BooleanField(help_text="true: the programme may keep it for its own members")


class MelodyIn(KeepIn):
    version = serializers.IntegerField(min_value=1, max_value=2**63 - 1)


class SoundSerializer(serializers.Serializer):
    media_type = serializers.CharField()
    size = serializers.IntegerField()
    duration = serializers.FloatField(help_text="Seconds")
    rights = serializers.CharField()


class HeardSerializer(serializers.ModelSerializer[Listening]):
    class Meta:
        model = Listening
        fields = ("id", "heard_on", "noticed", "seconds")


class HeardIn(serializers.Serializer):
    heard_on = serializers.DateTimeField()
    noticed = serializers.CharField(max_length=2000)
    seconds = serializers.IntegerField(min_value=0, max_value=10**6, default=0, help_text="How long you listened")


class FormMarkSerializer(serializers.ModelSerializer[FormMark]):
    class Meta:
        model = FormMark
        fields = ("chorus", "bar", "seconds", "label")
        extra_kwargs = {"bar": {"help_text": "Bar of the chorus as played, from 1"}}
        validators: list[Any] = []


class FormMarksSerializer(serializers.Serializer):
    moments = FormMarkSerializer(many=True, max_length=MOST_MARKS)  # type: ignore[call-arg]
