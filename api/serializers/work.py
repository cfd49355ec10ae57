"""Assignments, attempts, reviews, sign-offs and the ledger. Times are ISO 8601 with offset."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.urls import reverse
from django.utils import timezone
from rest_framework import serializers

from api.serializers.people import EnsembleSerializer, PersonSerializer
from assessments.forms import HandInForm
from assessments.kinds import BY_EAR, BY_HEART, KIND_CHOICES, SOLO_KINDS
from assessments.models import Assignment, Attempt, Comment, SignOff, Step, Submission
from assessments.services.answer import MAX_TEXT
from drills.kinds import question_kinds
from drills.question_kind import Parts
from studio.models import Ensemble, User
from tunes.models import ChartRevision, Recording


class StepSerializer(serializers.ModelSerializer[Step]):
    name = serializers.CharField()
    part = serializers.SerializerMethodField(help_text="Changes by ear: “chords” or “bass”; else null")
    recording = serializers.SerializerMethodField(
        help_text="Changes by ear: id of the recording they are taken from; else null"
    )

    class Meta:
        model = Step
        fields = ("id", "kind", "name", "due", "times", "part", "recording", "closed")

    def get_part(self, step: Step) -> str | None:
        return (step.options.get("part") or "chords") if step.kind == BY_EAR else None

    def get_recording(self, step: Step) -> int | None:
        return step.options.get("recording") if step.kind == BY_EAR else None


class AssignmentSerializer(serializers.ModelSerializer[Assignment]):
    ensemble = EnsembleSerializer()
    tune = serializers.IntegerField(source="tune_id")
    tune_title = serializers.CharField(source="tune.title")
    steps = StepSerializer(many=True)

    class Meta:
        model = Assignment
        fields = (
            "id",
            "title",
            "instructions",
            "ensemble",
            "tune",
            "tune_title",
            "revision",
            "strictness",
            "alternatives",
            "key_prefix",
            "attempts_allowed",
            "release",
            "released_at",
            "closed",
            "ask_repeats",
            "pitch_in",
            "created",
            "version",
            "steps",
        )


def _parts() -> dict[str, Parts]:
    return {kind.id: kind.parts for kind in question_kinds().values() if kind.parts}


class StepIn(serializers.Serializer):
    kind = serializers.ChoiceField(KIND_CHOICES)
    title = serializers.CharField(max_length=120, allow_blank=True, default="")
    due = serializers.DateTimeField(allow_null=True, default=None)
    times = serializers.IntegerField(min_value=1, max_value=50, default=1)
    part = serializers.ChoiceField(
        [("chords", "The chords"), *sorted(row for parts in _parts().values() for row in parts.alone.items())],
        default="chords",
        help_text="What changes by ear take down (chords, bass), or what is asked "
        "of each note of a solo (degree: that alone), or what is written by heart (chords, numbers)",
    )
    called = serializers.CharField(
        max_length=8,
        allow_blank=True,
        default="",
        help_text="By heart: the concert key that is called; else the site calls one",
    )
    section = serializers.CharField(
        max_length=12,
        allow_blank=True,
        default="",
        help_text="By heart: the letter of the section; else the whole form",
    )
    solo = serializers.IntegerField(default=None, allow_null=True, help_text="Steps about a solo: its id")
    first = serializers.IntegerField(
        default=None, allow_null=True, min_value=1, help_text="From that bar of the solo, from 1"
    )
    last = serializers.IntegerField(default=None, allow_null=True, min_value=1, help_text="To that bar of the solo")

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        part, heart = data.pop("part"), {name: data.pop(name) for name in ("called", "section")}
        passage = {name: data.pop(name) for name in ("solo", "first", "last")}
        parts = _parts().get(data["kind"])
        options = {"part": part if part in parts.alone else ""} if parts else {}
        if data["kind"] in SOLO_KINDS:
            options |= passage
        if data["kind"] == BY_HEART:
            options |= heart
        return data | ({"options": options} if options else {})


class AssignmentIn(serializers.Serializer):
    ensemble = serializers.PrimaryKeyRelatedField(queryset=Ensemble.objects.all())
    revision = serializers.PrimaryKeyRelatedField(
        queryset=ChartRevision.objects.select_related("version__tune").prefetch_related(
            "label_overrides__by", "area_overrides__by"
        )
    )
    title = serializers.CharField(max_length=120)
    instructions = serializers.CharField(max_length=4000, allow_blank=True, default="")
    strictness = serializers.ChoiceField(Assignment.Strictness.choices, default=Assignment.Strictness.QUALITY)
    alternatives = serializers.ChoiceField(Assignment.Alternatives.choices, default=Assignment.Alternatives.PART)
    key_prefix = serializers.BooleanField(default=False)
    attempts_allowed = serializers.IntegerField(min_value=1, max_value=20, default=2)
    release = serializers.ChoiceField(Assignment.Release.choices, default=Assignment.Release.LAST)
    ask_repeats = serializers.BooleanField(default=False)
    pitch_in = serializers.ChoiceField(Assignment.PitchIn.choices, default=Assignment.PitchIn.WRITTEN)
    steps = StepIn(many=True, allow_empty=False, max_length=20)  # type: ignore[call-arg]
    token = serializers.UUIDField(allow_null=True, default=None, help_text="Yours: the same one twice assigns once")
    past = serializers.BooleanField(
        default=False, help_text="true: a due date that is past is meant; otherwise such a date is refused"
    )


class AssignmentChange(serializers.Serializer):
    version = serializers.IntegerField(
        min_value=0, max_value=2**31 - 1, help_text="As you read it; 409 if it changed since"
    )
    title = serializers.CharField(max_length=120, required=False)
    instructions = serializers.CharField(max_length=4000, allow_blank=True, required=False)
    attempts_allowed = serializers.IntegerField(min_value=1, max_value=20, required=False)
    release = serializers.ChoiceField(Assignment.Release.choices, required=False)
    dues = serializers.DictField(
        child=serializers.DateTimeField(allow_null=True), required=False, help_text="Step id → due date"
    )
    steps = StepIn(many=True, required=False, max_length=20, help_text="Further steps, added to those there are")  # type: ignore[call-arg]
    closed_steps = serializers.ListField(
        child=serializers.IntegerField(),
        required=False,
        max_length=60,
        help_text="Ids of all steps that are no longer asked",
    )
    past = serializers.BooleanField(
        default=False, help_text="true: a due date that is past is meant; otherwise such a date is refused"
    )


class AttemptSerializer(serializers.ModelSerializer[Attempt]):
    step = StepSerializer()
    assignment = serializers.IntegerField(source="step.assignment_id")
    player = PersonSerializer()
    percent = serializers.SerializerMethodField(help_text="null until marks may be seen")

    class Meta:
        model = Attempt
        fields = (
            "id",
            "assignment",
            "step",
            "player",
            "number",
            "status",
            "started",
            "handed_in",
            "late",
            "after_answers",
            "percent",
            "version",
            "instrument",
            "written",
        )
        extra_kwargs = {
            "instrument": {"help_text": "Whose written pitch it is answered in; empty: concert pitch"},
            "written": {"help_text": "Interval from concert to that pitch: P1, M2, M6"},
        }

    def get_percent(self, attempt: Attempt) -> int | None:
        shown: set[int] | None = self.context.get("shown")
        return attempt.percent if shown is None or attempt.pk in shown else None


class QuestionSerializer(serializers.Serializer):
    id = serializers.CharField()
    kind = serializers.CharField()
    prompt = serializers.CharField()
    event = serializers.IntegerField(allow_null=True)
    bar = serializers.IntegerField(source="played", allow_null=True, help_text="As played")
    written_bar = serializers.IntegerField(
        source="written", allow_null=True, help_text="As written, which comments take"
    )


class AnswerSerializer(serializers.Serializer):
    question = serializers.CharField()
    text = serializers.CharField()
    version = serializers.IntegerField()
    saved = serializers.DateTimeField()


class MarkSerializer(serializers.Serializer):
    question = serializers.CharField()
    answer = serializers.CharField()
    understood = serializers.CharField()
    points = serializers.FloatField(help_text="0 to 1, as it counts")
    computed = serializers.FloatField(help_text="0 to 1, before an instructor changed it")
    rule = serializers.CharField()
    feedback = serializers.CharField()
    override_reason = serializers.CharField(allow_null=True)


class CommentSerializer(serializers.ModelSerializer[Comment]):
    by = serializers.CharField(source="by.name")
    written_bar = serializers.IntegerField(source="bar", allow_null=True, help_text="As it was sent")
    bar = serializers.SerializerMethodField(help_text="As played, the first time")

    class Meta:
        model = Comment
        fields = ("id", "bar", "written_bar", "seconds", "note", "text", "by", "created")

    def get_bar(self, comment: Comment) -> int | None:
        return self.context["bars"].commented(comment.bar) if comment.bar is not None else None


class SubmissionSerializer(serializers.ModelSerializer[Submission]):
    file = serializers.SerializerMethodField(help_text="Path of the sound; null for a link or a note")

    class Meta:
        model = Submission
        fields = ("id", "file", "name", "media_type", "size", "seconds", "link", "note", "solo", "created")

    def get_file(self, row: Submission) -> str | None:
        return reverse("api:file", args=[row.pk]) if row.file else None


class OneAttemptSerializer(AttemptSerializer):
    pitch = serializers.CharField(help_text="In words: “Written for tenor saxophone”")
    goes_left = serializers.IntegerField(help_text="How many more times the player may start this step")
    answers_come = serializers.CharField(help_text="When marks and answers may be seen, in words")
    submissions = SubmissionSerializer(many=True, help_text="What was handed in: sound, link, note")
    questions = QuestionSerializer(many=True)
    answers = AnswerSerializer(many=True)
    marks = MarkSerializer(many=True, help_text="Empty until marks may be seen")
    comments = CommentSerializer(many=True)

    class Meta(AttemptSerializer.Meta):
        fields = (  # type: ignore[assignment]
            *AttemptSerializer.Meta.fields,
            "pitch",
            "goes_left",
            "answers_come",
            "submissions",
            "questions",
            "answers",
            "marks",
            "comments",
        )


class SaveIn(serializers.Serializer):
    question = serializers.CharField(max_length=40)
    text = serializers.CharField(max_length=MAX_TEXT, allow_blank=True, trim_whitespace=False)
    sequence = serializers.IntegerField(
        min_value=0, max_value=2**31 - 1, help_text="Rises with every save of one client"
    )
    base = serializers.IntegerField(
        min_value=0, max_value=2**31 - 1, default=0, help_text="Version of the answer you last saw"
    )


class SavesIn(serializers.Serializer):
    client = serializers.UUIDField(help_text="Your own id for this window or program")
    saves = SaveIn(many=True, allow_empty=False, max_length=400)  # type: ignore[call-arg]


class SavedSerializer(serializers.Serializer):
    question = serializers.CharField()
    sequence = serializers.IntegerField()
    outcome = serializers.CharField(help_text="saved, conflict, late or unknown")
    text = serializers.CharField(help_text="The answer that stands now")
    version = serializers.IntegerField()
    saved = serializers.DateTimeField(allow_null=True)


class SavesOut(serializers.Serializer):
    results = SavedSerializer(many=True)


class SubmissionIn(serializers.Serializer):
    token = serializers.UUIDField(help_text="Yours: the same one twice hands in once")
    link = serializers.URLField(max_length=500, allow_blank=True, default="")
    note = serializers.CharField(max_length=4000, allow_blank=True, default="")
    file = serializers.FileField(
        default=None, allow_null=True, help_text="Sound, sent as multipart/form-data; judged by its content"
    )
    solo = serializers.IntegerField(
        default=None, allow_null=True, help_text="Steps about a solo: id of the kept notes of a solo of yours"
    )

    take = serializers.IntegerField(default=None, allow_null=True, help_text="Id of a take of yours over this tune")

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        """The page's own form decides: a file, a link or a note, and the file is sound."""
        file = data.pop("file")
        form = HandInForm(
            data, {"file": file} if file else None, solos=self.context.get("solos"), takes=self.context.get("takes")
        )
        if not form.is_valid():
            raise serializers.ValidationError(form.errors)  # type: ignore[arg-type]
        return {**form.cleaned_data, "media_type": form.media_type, "seconds": form.seconds}


class HearingSerializer(serializers.Serializer):
    on = serializers.DateField()
    heard = serializers.CharField()
    noticed = serializers.CharField()


class ListeningIn(serializers.Serializer):
    token = serializers.UUIDField(help_text="Yours: the same one twice logs once")
    recording = serializers.PrimaryKeyRelatedField(queryset=Recording.objects.all(), allow_null=True, default=None)
    heard = serializers.CharField(max_length=200, allow_blank=True, default="")
    on = serializers.DateField()
    noticed = serializers.CharField(max_length=2000, allow_blank=True, default="")

    def validate_on(self, day: date) -> date:
        if day > timezone.localdate():
            raise serializers.ValidationError("That day has not come yet: log it when you have heard it.")
        if day.year < 1900:
            raise serializers.ValidationError("Write the day you heard it, as 2030-05-31.")
        return day

    def validate(self, data: dict[str, Any]) -> dict[str, Any]:
        if not data["recording"] and not data["heard"]:
            raise serializers.ValidationError({"heard": "Choose a recording, or say which one you heard."})
        return data


class CommentIn(serializers.Serializer):
    token = serializers.UUIDField(help_text="Yours: the same one twice adds once")
    text = serializers.CharField(max_length=2000)
    bar = serializers.IntegerField(
        min_value=0, max_value=9999, allow_null=True, default=None, help_text="As written: `written_bar` of a question"
    )
    seconds = serializers.FloatField(min_value=0, max_value=86_400, allow_null=True, default=None)
    submission = serializers.IntegerField(
        min_value=1, max_value=2**63 - 1, allow_null=True, default=None, help_text="With `note`: the solo handed in"
    )
    note = serializers.IntegerField(
        min_value=0,
        max_value=100_000,
        allow_null=True,
        default=None,
        help_text="Which note of that solo, from 0, as the reading of a solo counts them; the comment says it in words",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if (attrs["submission"] is None) != (attrs["note"] is None):
            raise serializers.ValidationError({"note": ["A note of a solo needs both `submission` and `note`."]})
        return attrs


class OverrideIn(serializers.Serializer):
    version = serializers.IntegerField(min_value=0, max_value=2**31 - 1, help_text="Of the attempt, as you read it")
    question = serializers.CharField(max_length=40)
    points = serializers.FloatField(min_value=0, max_value=1)
    reason = serializers.CharField(max_length=400)


class DecisionIn(serializers.Serializer):
    version = serializers.IntegerField(min_value=0, max_value=2**31 - 1, help_text="Of the attempt, as you read it")
    decision = serializers.ChoiceField(
        [
            ("accept", "Reviewed and accepted"),
            ("return", "Return for another go"),
            ("reopen", "Undo either"),
            ("count", "Let a go count that came after the answers"),
            ("uncount", "Undo it"),
        ]
    )


class SignOffIn(serializers.Serializer):
    players = serializers.PrimaryKeyRelatedField(queryset=User.objects.all(), many=True, allow_empty=False)
    evidence = serializers.CharField(max_length=400)


class SignOffSerializer(serializers.ModelSerializer[SignOff]):
    player = PersonSerializer()
    by = serializers.CharField(source="by.name")

    class Meta:
        model = SignOff
        fields = ("id", "player", "tune", "ensemble", "evidence", "by", "created", "taken_back")
