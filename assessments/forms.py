"""Forms of the work pages. Every problem names its field and what to type instead."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.db.models import QuerySet
from django.utils import timezone

from drills.kinds import question_kinds
from drills.models import Take
from studio.form_fields import ManyChoiceField
from studio.keeping import KeepsFile
from studio.models import Ensemble
from tunes.audio import ACCEPTED, MAX_BYTES, SoundRefused, inspect
from tunes.harmony.pitch.spelling import Key
from tunes.models import ChartRevision, Recording, SoloRevision, Tune

from .called import twelve
from .kinds import BY_HEART, HAND_IN, KINDS, LOG, QUIZ, SOLO_KINDS
from .learned import SIGN_OFF
from .models import Assignment, Objection, ProgrammeRequirement, Step
from .services.assign import StepPlan

LAST_MINUTE = time(23, 59)
C_MAJOR = Key.parse("C")


def end_of(day: Any) -> datetime | None:
    """The last minute of a day in the programme's time zone."""
    return timezone.make_aware(datetime.combine(day, LAST_MINUTE)) if day else None


class DateInput(forms.DateInput):
    input_type = "date"

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(format="%Y-%m-%d", **kwargs)


class _ReleaseNote:
    """Whether the form, as it stands, lets the key be seen while goes are left."""

    def shows_key_early(self: Any) -> bool:
        return self["release"].value() == Assignment.Release.HAND_IN and str(self["attempts_allowed"].value()) != "1"


class AssignmentForm(_ReleaseNote, forms.ModelForm):
    """What is asked of an ensemble; steps are in `StepsForm`."""

    token = forms.UUIDField(widget=forms.HiddenInput)
    ensemble = ManyChoiceField(
        None,
        label="Ensembles",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Tick at least one ensemble."},
    )
    field_order = ["ensemble"]

    class Meta:
        model = Assignment
        fields = [
            "revision",
            "title",
            "instructions",
            "strictness",
            "alternatives",
            "key_prefix",
            "attempts_allowed",
            "release",
            "pitch_in",
            "ask_repeats",
        ]
        labels = {
            "revision": "Chart",
            "strictness": "What is marked",
            "alternatives": "Other sound readings",
            "key_prefix": "A new key must be named in front of its first chord (Ab: 2)",
            "attempts_allowed": "Attempts allowed",
            "release": "Marks and answers are shown",
            "pitch_in": "The chart is shown for",
            "ask_repeats": "Ask repeated sections again",
        }
        widgets = {"instructions": forms.Textarea(attrs={"rows": 4})}

    def __init__(
        self, *args: Any, ensembles: QuerySet[Ensemble], revisions: QuerySet[ChartRevision], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["ensemble"].queryset = ensembles  # type: ignore[attr-defined]
        self.fields["ensemble"].label_from_instance = lambda ensemble: ensemble.in_term  # type: ignore[attr-defined]
        self.fields["revision"].queryset = revisions  # type: ignore[attr-defined]
        self.fields["revision"].label_from_instance = revision_label  # type: ignore[attr-defined]
        self.fields["revision"].empty_label = None  # type: ignore[attr-defined]
        self.fields["token"].initial = uuid.uuid4


def revision_label(revision: ChartRevision) -> str:
    """How a chart is named in a list of choices."""
    checked = ", checked" if revision.checked else ", not checked yet"
    return f"{revision.version.name}, revision {revision.number}{checked}"


class EditForm(_ReleaseNote, forms.ModelForm):
    """What may still change once questions are issued."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    class Meta:
        model = Assignment
        fields = ["title", "instructions", "attempts_allowed", "release"]
        labels = {"attempts_allowed": "Attempts allowed", "release": "Marks and answers are shown"}
        widgets = {"instructions": forms.Textarea(attrs={"rows": 4})}


CALLS = [
    ("", "Called by the site, another each time"),
    *((key.tonic.text, key.tonic.display) for key in twelve(C_MAJOR)),
]


class StepRow(forms.Form):
    """One kind of step on the assign page: ticked or not, with its own title, date and count."""

    on = forms.BooleanField(required=False)
    place = forms.IntegerField(required=False, min_value=0, max_value=999, widget=forms.HiddenInput)
    title = forms.CharField(required=False, max_length=120)
    due = forms.DateField(required=False, widget=DateInput)
    times = forms.IntegerField(required=False, min_value=1, max_value=50)
    part = forms.ChoiceField(required=False)
    called = forms.ChoiceField(required=False, choices=CALLS)
    section = forms.CharField(required=False, max_length=12)
    solo = forms.TypedChoiceField(required=False, coerce=int, empty_value=None)
    first = forms.IntegerField(required=False, min_value=1, max_value=9999)
    last = forms.IntegerField(required=False, min_value=1, max_value=9999)

    def __init__(self, *args: Any, kind: str, solos: Sequence[tuple[int, str]] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = KINDS[kind]
        self.fields["solo"].choices = [("", "none yet" if not solos else "choose"), *solos]  # type: ignore[attr-defined]
        for name, label in (
            ("solo", "which solo"),
            ("first", "from its bar"),
            ("last", "to its bar"),
        ):
            self.fields[name].label = f"{self.kind.name}: {label}"
        if self.kind.id not in SOLO_KINDS:
            for name in ("solo", "first", "last"):
                del self.fields[name]
        self.fields["on"].label = self.kind.name
        self.fields["title"].label = f"{self.kind.name}: own title"
        self.fields["due"].label = f"{self.kind.name}: due"
        self.fields["times"].label = f"{self.kind.name}: how many times"
        if self.kind.how != LOG:
            del self.fields["times"]
        if self.kind.id == BY_HEART:
            self.fields["called"].label = f"{self.kind.name}: concert key"
            self.fields["section"].label = f"{self.kind.name}: the section that is called"
        else:
            del self.fields["called"], self.fields["section"]
        asked = question_kinds().get(kind)
        if asked and asked.parts:
            self.fields["part"].choices = [("", asked.parts.whole), *asked.parts.alone.items()]  # type: ignore[attr-defined]
            self.fields["part"].label = asked.parts.label
        else:
            del self.fields["part"]

    def plan(self, due: Any) -> StepPlan:
        data = self.cleaned_data
        options: dict[str, Any] = {
            name: data[name] for name in ("part", "called", "section", "solo", "first", "last") if name in data
        }
        if "section" in options:
            options["section"] = options["section"].strip()
        return StepPlan(
            kind=self.kind.id,
            title=data["title"],
            due=end_of(due),
            times=data.get("times") or 1,
            options=options,
        )


class StepsForm:
    """The rows for every kind that can be assigned, with one common due date. Two hand-ins can be asked."""

    START = {
        "listening": {"on": True, "times": 3},
        "form": {"on": True},
        "function": {"on": True},
        "key-areas": {"on": True},
        "sign-off": {"on": True},
        "hand-in": {"title": "The melody by ear, recorded"},
    }

    def __init__(
        self,
        data: Any = None,
        *,
        blank: bool = False,
        require_one: bool = True,
        solos: Sequence[tuple[int, str]] = (),
        start: Mapping[str, Mapping[str, Any]] | None = None,
    ) -> None:
        """`start`: what is ticked and filled in beforehand, by kind; without it the usual steps, with `blank` none."""
        self.data, self.require_one, self.error = data, require_one, ""
        chosen: Mapping[str, Any] = {} if blank else self.START if start is None else start
        week = timezone.localdate() + timedelta(days=7)
        self.common = CommonDue(data, initial={"all_due": week, "rhythm": 0})
        kinds = [k for kind in KINDS for k in ((kind, kind + "-2") if kind == "hand-in" else (kind,))]
        self.rows = [
            StepRow(data, kind=k.removesuffix("-2"), prefix=f"step-{k}", initial=chosen.get(k, {}), solos=solos)
            for k in kinds
        ]

    def is_valid(self) -> bool:
        good = all([self.common.is_valid(), *(row.is_valid() for row in self.rows)])
        if good and self.require_one and not self.plans():
            self.error = "Tick at least one step."
        return good and not self.error

    def plans(self) -> list[StepPlan]:
        """The ticked steps in their order. The rhythm gives the dates; a date of a step's own stays, and where the steps are
        days apart the later ones follow from it."""
        chosen = [row for row in self.rows if row.cleaned_data["on"]]
        chosen.sort(key=lambda row: 999 if row.cleaned_data["place"] is None else row.cleaned_data["place"])
        due, rhythm = self.common.cleaned_data["all_due"], timedelta(days=self.common.cleaned_data["rhythm"] or 0)
        plans = []
        for row in chosen:
            own = row.cleaned_data["due"]
            plans.append(row.plan(own or due))
            due = (own or due) + rhythm if rhythm and (own or due) else due
        return plans


class CommonDue(forms.Form):
    all_due = forms.DateField(required=False, widget=DateInput, label="The first step is due")
    rhythm = forms.TypedChoiceField(
        required=False,
        coerce=int,
        empty_value=0,  # type: ignore[arg-type]
        label="The others",
        choices=[(0, "on the same day"), (2, "two days apart"), (3, "three days apart"), (7, "a week apart")],
    )


class LeewayForm(forms.Form):
    """A later date, or an excuse, for one player: of one step, or of all."""

    player: forms.ModelChoiceField[Any] = forms.ModelChoiceField(None, label="Player", empty_label=None)
    step = forms.ModelChoiceField(
        Step.objects.none(), required=False, label="Step", empty_label="All that are not done"
    )
    due = forms.DateField(required=False, widget=DateInput, label="Due")
    excused = forms.BooleanField(required=False, label="Excused: need not do it")
    reason = forms.CharField(required=False, max_length=200, label="Why (instructors read it)")

    def __init__(self, *args: Any, players: Any, steps: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["player"].queryset = players  # type: ignore[attr-defined]
        self.fields["step"].queryset = steps  # type: ignore[attr-defined]
        self.fields["step"].label_from_instance = lambda step: step.name  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and not data.get("excused") and not data.get("due"):
            self.add_error("due", "Give a day, or tick that the player is excused.")
        elif not self.errors and not data.get("excused"):
            self._refuse_earlier(data["due"], data.get("step"))
        return data

    def _refuse_earlier(self, day: date, chosen: Step | None) -> None:
        """A later date is later than the one that all have."""
        steps = [chosen] if chosen else list(self.fields["step"].queryset)  # type: ignore[attr-defined]
        dues = [timezone.localtime(step.due).date() for step in steps if step.due]
        if dues and len(dues) == len(steps) and day <= min(dues):
            self.add_error("due", f"All have until {min(dues):%-d %B %Y}. Give a day after that.")


def _one_is_enough(form: forms.Form, *names: str) -> None:
    """None of these fields is called optional: one of them has to be filled."""
    for name in names:
        form.fields[name].one_is_enough = True  # type: ignore[attr-defined]


class ListeningForm(forms.Form):
    """One hearing of one recording."""

    recording = forms.ModelChoiceField(Recording.objects.none(), required=False, empty_label="Another recording")
    heard = forms.CharField(required=False, max_length=200, label="Which one, if it is not in the list")
    on = forms.DateField(widget=DateInput, label="When")
    noticed = forms.CharField(
        required=False, max_length=2000, label="What you noticed", widget=forms.Textarea(attrs={"rows": 3})
    )
    token = forms.UUIDField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        recordings: QuerySet[Recording],
        listed: Sequence[Recording],
        reference: Recording | None,
        **kwargs: Any,
    ) -> None:
        """Any of `recordings` may be chosen; those `listed`, which the page has read, are offered."""
        super().__init__(*args, **kwargs)
        self.fields["recording"].queryset = recordings  # type: ignore[attr-defined]
        self.fields["recording"].choices = [("", "Another recording"), *((row.pk, str(row)) for row in listed)]  # type: ignore[attr-defined]
        self.fields["token"].initial = uuid.uuid4
        self.fields["on"].initial = timezone.localdate
        self.fields["recording"].initial = reference
        _one_is_enough(self, "recording", "heard")

    def clean_on(self) -> Any:
        day = self.cleaned_data["on"]
        if day > timezone.localdate():
            raise forms.ValidationError("That day has not come yet: log it when you have heard it.")
        return day

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not data.get("recording") and not data.get("heard"):
            self.add_error("heard", "Choose a recording, or say which one you heard.")
        if data.get("heard"):
            data["recording"] = None  # the reference is chosen beforehand: what was typed is meant
        elif data.get("recording"):
            data["heard"] = str(data["recording"])
        return data


class HandInForm(KeepsFile):
    """A sound file, a link or a note; at least one of them."""

    purpose = "hand-in"

    file = forms.FileField(
        required=False,
        label="Sound file",
        help_text=f"{ACCEPTED}, at most {MAX_BYTES // 2**20} MB.",
        widget=forms.ClearableFileInput(attrs={"accept": "audio/*,video/webm"}),
    )
    link = forms.URLField(required=False, max_length=500, label="Or a link", assume_scheme="https")
    note = forms.CharField(
        required=False, max_length=4000, label="Or a note for your instructor", widget=forms.Textarea(attrs={"rows": 4})
    )
    solo = forms.ModelChoiceField(
        SoloRevision.objects.none(), required=False, label="A solo that you wrote out", empty_label="choose"
    )
    take = forms.ModelChoiceField(Take.objects.none(), required=False, label="A take", empty_label="none")
    token = forms.UUIDField(widget=forms.HiddenInput)
    field_order = ["solo", "take", "file", "link", "note"]

    def __init__(
        self,
        *args: Any,
        solos: QuerySet[SoloRevision] | None = None,
        takes: QuerySet[Take] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["token"].initial = uuid.uuid4
        _one_is_enough(self, "file", "link", "note", "solo", "take")
        if takes is None:
            del self.fields["take"]
        else:
            self.fields["take"].queryset = takes  # type: ignore[attr-defined]
            self.fields["take"].label_from_instance = take_label  # type: ignore[attr-defined]
        self.media_type = ""
        self.seconds: float | None = None
        if solos is None:
            del self.fields["solo"]
        else:
            self.fields["solo"].queryset = solos  # type: ignore[attr-defined]
            self.fields["solo"].label_from_instance = solo_label  # type: ignore[attr-defined]

    def clean_file(self) -> UploadedFile | None:
        file: UploadedFile | None = self.cleaned_data.get("file")
        if not file:
            return None
        try:
            sound = inspect(file, file.size or 0)
        except SoundRefused as refused:
            raise forms.ValidationError(f"{refused} You can also send a link.") from refused
        self.media_type, self.seconds = sound.media_type, round(sound.duration, 2)
        return file

    def clean_link(self) -> str:
        link: str = self.cleaned_data["link"]
        if link and not link.lower().startswith(("http://", "https://")):
            raise forms.ValidationError("A link starts with https://")
        return link

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not self.errors and not any(data.get(name) for name in ("file", "link", "note", "solo", "take")):
            self.add_error(
                "solo" if "solo" in self.fields else "file", "Choose what to hand in, paste a link or write a note."
            )
        return data


def take_label(take: Take) -> str:
    """How a take is named in a list of choices: what it is of, how fast, when it was made."""
    return f"{take.title}, at {take.tempo}, {timezone.localtime(take.made):%a %-d %b, %H:%M}"


def solo_label(kept: SoloRevision) -> str:
    """How a solo is named in a list of choices: who plays, how many notes, when it was kept."""
    return f"{kept.solo.player}, {kept.count} notes, kept {timezone.localtime(kept.created):%a %-d %b, %H:%M}"


class CommentForm(forms.Form):
    text = forms.CharField(
        max_length=2000,
        label="Comment",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Write something first."},
    )
    bar = forms.IntegerField(required=False, min_value=0, max_value=9999)
    seconds = forms.FloatField(required=False, min_value=0, max_value=86_400)
    note = forms.IntegerField(required=False, min_value=0, max_value=100_000)  # of the solo `sent`, from 0
    sent = forms.IntegerField(required=False, min_value=1, max_value=2**63 - 1)
    token = forms.UUIDField()


class OverrideForm(forms.Form):
    question = forms.CharField(max_length=40)
    points = forms.FloatField(
        min_value=0,
        max_value=1,
        label="Points",
        error_messages={
            "min_value": "A question earns from 0 to 1: type a number between them, such as 0.5.",
            "max_value": "A question earns from 0 to 1: type a number between them, such as 0.5.",
            "invalid": "Type a number from 0 to 1, such as 0.5.",
            "required": "Type a number from 0 to 1, such as 0.5.",
        },
    )
    reason = forms.CharField(
        max_length=400, label="Reason", error_messages={"required": "Say why: the player reads it."}
    )
    version = forms.IntegerField()


class ObjectForm(forms.Form):
    """A player questions a mark, or the reading that it was marked by."""

    question = forms.CharField(max_length=40)
    about = forms.ChoiceField(choices=Objection.About.choices)
    text = forms.CharField(max_length=1000, error_messages={"required": "Say what you hear there, and why."})
    token = forms.UUIDField()


class QuestionReadingForm(forms.Form):
    """A player questions how a chord is read."""

    text = forms.CharField(
        max_length=1000,
        label="What you hear there, and why",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say what you hear there, and why."},
    )
    token = forms.UUIDField(widget=forms.HiddenInput)


class AnswerReadingForm(forms.Form):
    """What an instructor says to it."""

    outcome = forms.ChoiceField(
        choices=[("kept", ""), ("overrule", "")], error_messages={"required": "Choose what comes of it."}
    )
    answer = forms.CharField(
        max_length=1000,
        label="Your answer",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why: the player reads it."},
    )


class AnswerObjectionForm(forms.Form):
    """What an instructor says to it: nothing is chosen beforehand, because some choices change others' marks."""

    outcome = forms.ChoiceField(
        choices=[("kept", ""), ("here", ""), ("same", ""), ("label", "")],
        error_messages={"required": "Choose what comes of it."},
    )
    answer = forms.CharField(
        max_length=400,
        label="Your answer",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say why: the player reads it."},
    )


class AcceptForm(forms.Form):
    """An answer accepted for everyone who wrote it: where, for how much, and why."""

    where = forms.ChoiceField(choices=[("here", "This place only"), ("same", "Every place where the same stands")])
    points = forms.FloatField(
        min_value=0,
        max_value=1,
        initial=1,
        label="Points, 0 to 1",
        widget=forms.NumberInput(attrs={"step": "0.05"}),
        error_messages=OverrideForm.base_fields["points"].error_messages,
    )
    reason = forms.CharField(
        max_length=400, label="Reason", error_messages={"required": "Say why: the players read it."}
    )


class SignOffForm(forms.Form):
    evidence = forms.CharField(
        max_length=400,
        label="On what evidence",
        error_messages={"required": "Say on what evidence: it goes into the ledger."},
    )
    players = ManyChoiceField(None, error_messages={"required": "Tick at least one player."})

    def __init__(self, *args: Any, players: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["players"].queryset = players  # type: ignore[attr-defined]


class DayForm(forms.Form):
    """The day by which an ensemble should know a tune; empty for none."""

    known_by = forms.DateField(required=False, widget=DateInput, label="Known by")


class PlanForm(DayForm):
    """A tune for the plan, by its title or a part of it that fits no other."""

    tune = forms.CharField(max_length=200, label="Tune", help_text="Its title, or a part that fits no other tune.")
    field_order = ["tune", "known_by"]

    def clean_tune(self) -> Tune:
        text = " ".join(self.cleaned_data["tune"].split())
        for matching in ({"title__iexact": text}, {"title__icontains": text}):
            found = list(Tune.objects.filter(**matching).order_by("title", "pk")[:6])
            if len(found) == 1:
                return found[0]
            if found:
                choice = ", ".join(f"“{tune.title}”" for tune in found[:5])
                raise forms.ValidationError(f"Several tunes fit: {choice}. Type the whole title.")
        raise forms.ValidationError("No tune of the repertoire has that title. Add it under Tunes first.")


class RequirementRow(forms.Form):
    """One kind of step in the programme's requirements."""

    on = forms.BooleanField(required=False)
    pass_mark = forms.IntegerField(required=False, min_value=0, max_value=100)
    times = forms.IntegerField(required=False, min_value=1, max_value=50)

    def __init__(self, *args: Any, kind: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.kind = KINDS[kind]
        self.fields["on"].label = self.kind.name
        self.fields["pass_mark"].label = f"{self.kind.name}: pass mark in percent"
        self.fields["times"].label = f"{self.kind.name}: how many times"
        if self.kind.how != QUIZ:
            del self.fields["pass_mark"]
        if self.kind.how not in (LOG, HAND_IN):
            del self.fields["times"]

    def requirement(self, position: int) -> ProgrammeRequirement:
        data = self.cleaned_data
        mark = data.get("pass_mark") if self.kind.how == QUIZ else 0
        return ProgrammeRequirement(
            kind=self.kind.id, pass_mark=80 if mark is None else mark, times=data.get("times") or 1, position=position
        )


def wanted(rows: Sequence[RequirementRow]) -> list[ProgrammeRequirement]:
    """What checked rows ask for, unsaved, in their order. Sign-off is asked for whatever they say."""
    return [row.requirement(i) for i, row in enumerate(rows) if row.cleaned_data["on"] or row.kind.id == SIGN_OFF]
