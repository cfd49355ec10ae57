"""Tunes, recordings, charts and analyses. Keys and chords are concert pitch; beats count the unit of the metre."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError as ModelProblem
from rest_framework import serializers

from api.serializers.fields import MAX_TEXT, KeyField
from tunes.forms import RecordingForm, TuneForm
from tunes.harmony.readings.function import KINDS, ROLES
from tunes.models import AreaOverride, ChartRevision, ChartVersion, LabelOverride, Recording, Tune


class ByForm:
    """Checks a body with the form that the page uses, so that page and interface refuse the same things."""

    form: type[Any]
    extra: tuple[str, ...] = ()

    def checked(self, data: dict[str, Any], instance: Any) -> Any:
        """The unsaved object. Raises ValidationError with one list of sentences per field."""
        names = self.form._meta.fields
        now = {name: getattr(instance, name) for name in names}
        form = self.form({**now, **data}, instance=instance)
        if not form.is_valid():
            raise serializers.ValidationError({"detail" if k == "__all__" else k: v for k, v in form.errors.items()})
        try:
            return form.save(commit=False)
        except ModelProblem as error:
            raise serializers.ValidationError(error.messages) from error


class TuneSerializer(serializers.ModelSerializer[Tune]):
    class Meta:
        model = Tune
        fields = (
            "id",
            "title",
            "composer",
            "key",
            "metre",
            "form",
            "feel",
            "tempo_low",
            "tempo_high",
            "has_lyrics",
            "notes",
            "changed",
        )
        read_only_fields = ("id", "changed")
        validators: list[Any] = []  # the form says it in words

    def to_representation(self, instance: Tune) -> dict[str, Any]:
        """`form` is empty while a quiz on it is open for who asks: `unnamed` in the context, tune ids."""
        body: dict[str, Any] = super().to_representation(instance)
        return body | {"form": ""} if instance.pk in self.context.get("unnamed", ()) else body


class TuneIn(ByForm, TuneSerializer):
    form = TuneForm


class RecordingSerializer(serializers.ModelSerializer[Recording]):
    class Meta:
        model = Recording
        fields = ("id", "leader", "album", "year", "key", "tempo", "link", "is_reference", "why")
        validators: list[Any] = []


class RecordingIn(ByForm, RecordingSerializer):
    form = RecordingForm


class RevisionRowSerializer(serializers.ModelSerializer[ChartRevision]):
    class Meta:
        model = ChartRevision
        fields = ("id", "number", "source_kind", "source_recording", "source_note", "checked", "engine", "created")

    def to_representation(self, instance: ChartRevision) -> dict[str, Any]:
        """Without its note, which may name chords, where the context says that they are `closed` to the reader."""
        body = super().to_representation(instance)
        return body | {"source_note": ""} if self.context.get("closed") else body


class RevisionSerializer(RevisionRowSerializer):
    version = serializers.IntegerField(source="version_id")

    class Meta(RevisionRowSerializer.Meta):
        fields = (*RevisionRowSerializer.Meta.fields, "version", "text")  # type: ignore[assignment]


class SavedRevisionSerializer(RevisionSerializer):
    left_behind = serializers.ListField(
        child=serializers.CharField(), help_text=("Overrules whose chord has changed: they stay on the revision before")
    )

    class Meta(RevisionSerializer.Meta):
        fields = (*RevisionSerializer.Meta.fields, "left_behind")  # type: ignore[assignment]


class VersionSerializer(serializers.ModelSerializer[ChartVersion]):
    latest = RevisionRowSerializer(allow_null=True)

    class Meta:
        model = ChartVersion
        fields = ("id", "name", "is_agreed", "latest")


class VersionChange(serializers.Serializer):
    name = serializers.CharField(max_length=80, required=False)
    is_agreed = serializers.BooleanField(
        required=False, help_text="true: the chart that the class agrees on, instead of any other"
    )

    def validate_is_agreed(self, value: bool) -> bool:
        if not value:
            raise serializers.ValidationError("Agree on another version instead.")
        return value


class TextIn(serializers.Serializer):
    text = serializers.CharField(
        max_length=MAX_TEXT, trim_whitespace=False, help_text="A chart in the site's notation (see the notation page)"
    )


class RevisionIn(TextIn):
    source_kind = serializers.ChoiceField(ChartRevision.Source.choices, default=ChartRevision.Source.OTHER)
    source_recording = serializers.PrimaryKeyRelatedField(
        queryset=Recording.objects.all(), allow_null=True, default=None
    )
    source_note = serializers.CharField(max_length=300, allow_blank=True, default="")
    checked = serializers.BooleanField(
        default=False,
        help_text=(
            "You agree to every bar that nobody has spoken about; it counts as checked when no bar is left open or disputed"
        ),
    )
    based_on = serializers.IntegerField(
        allow_null=True,
        default=None,
        min_value=0,
        max_value=10**6,
        help_text=("Number of the revision the text started from; 409 when a newer one exists"),
    )


class VersionIn(RevisionIn):
    name = serializers.CharField(max_length=80)


class ProblemSerializer(serializers.Serializer):
    message = serializers.CharField()
    suggestion = serializers.CharField(
        help_text="What to write instead of start to end; empty when there is nothing better"
    )
    removes = serializers.BooleanField(help_text="Start to end should be deleted")
    line = serializers.IntegerField(help_text="From 1")
    bar = serializers.IntegerField(help_text="Bar as played, the first time; -1: not at a bar")
    written_bar = serializers.IntegerField(help_text="The same as written")
    start = serializers.IntegerField(help_text="Offset in characters")
    end = serializers.IntegerField(help_text="Offset in characters, exclusive")


class FunctionSerializer(serializers.Serializer):
    degree = serializers.CharField(help_text="Root against the major scale of the local tonic: 2, b3, #4")
    quality = serializers.CharField(allow_blank=True)
    role = serializers.ChoiceField([(r, r) for r in ROLES])
    kind = serializers.ChoiceField([(k, k) for k in KINDS])
    target = serializers.CharField(allow_null=True)
    target_minor = serializers.BooleanField()
    of = serializers.CharField(allow_null=True)
    numeral = serializers.CharField(help_text="V7/ii")
    spoken = serializers.CharField(help_text="5 of 2")


class AlternativeSerializer(serializers.Serializer):
    key = serializers.CharField()
    function = FunctionSerializer()
    margin = serializers.FloatField(help_text="0: as good; larger: weaker")
    reason = serializers.CharField()


class ComputedSerializer(serializers.Serializer):
    key = serializers.CharField()
    function = FunctionSerializer()
    rule = serializers.CharField()
    reason = serializers.CharField()


class ReadingSerializer(serializers.Serializer):
    event = serializers.IntegerField(help_text="Position among the chords of one chorus, from 0")
    bar = serializers.IntegerField(help_text="Bar of the chorus as played, from 1; a pickup is 0")
    written_bar = serializers.IntegerField(help_text="The same on a chart that writes a repeat once")
    beat = serializers.FloatField(help_text="Beat in the bar, from 1")
    beats = serializers.FloatField(help_text="Duration")
    chord = serializers.CharField(allow_blank=True, help_text="Concert pitch; empty where no chord sounds")
    key = serializers.CharField()
    function = FunctionSerializer()
    resolves_to = serializers.IntegerField(allow_null=True)
    resolution = serializers.CharField()
    rule = serializers.CharField()
    reason = serializers.CharField()
    landing = serializers.IntegerField(allow_null=True, help_text="Resolutions still to come before it lands")
    overruled_by = serializers.CharField(allow_null=True)
    computed = ComputedSerializer(allow_null=True, help_text="The engine's reading, where a person's stands instead")
    alternatives = AlternativeSerializer(many=True)


class AreaSerializer(serializers.Serializer):
    key = serializers.CharField()
    first = serializers.IntegerField(help_text="Event")
    last = serializers.IntegerField(help_text="Event, included")
    reason = serializers.CharField()


class AnalysisSerializer(serializers.Serializer):
    home = serializers.CharField()
    engine = serializers.CharField()
    areas = AreaSerializer(many=True)
    chords = ReadingSerializer(many=True)


class AnalyseOut(serializers.Serializer):
    problems = ProblemSerializer(many=True)
    analysis = AnalysisSerializer(allow_null=True)


class OverruleIn(serializers.Serializer):
    event = serializers.IntegerField(min_value=0, max_value=10**6)
    key = KeyField()
    answer = serializers.CharField(max_length=60, help_text="The function as a musician writes it: 5 of 2, bVII7")
    why = serializers.CharField(max_length=400, allow_blank=True, default="")
    every_time = serializers.BooleanField(
        default=True, help_text="For every time these bars sound; false: this time only"
    )


class OverruleOut(serializers.ModelSerializer[LabelOverride]):
    function = FunctionSerializer()
    by = serializers.CharField(source="by.name", allow_null=True, default=None)

    class Meta:
        model = LabelOverride
        fields = ("id", "event", "key", "function", "why", "by", "created", "withdrawn")


class AreaOverruleIn(serializers.Serializer):
    first = serializers.IntegerField(min_value=0, max_value=10**6)
    last = serializers.IntegerField(min_value=0, max_value=10**6)
    key = KeyField()
    why = serializers.CharField(max_length=400, allow_blank=True, default="")
    every_time = serializers.BooleanField(
        default=True, help_text="For every time these bars sound; false: this time only"
    )


class AreaOverruleOut(serializers.ModelSerializer[AreaOverride]):
    by = serializers.CharField(source="by.name", allow_null=True, default=None)

    class Meta:
        model = AreaOverride
        fields = ("id", "first", "last", "key", "why", "by", "created", "withdrawn")
