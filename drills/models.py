"""What people practise, what comes next, and the booklets that ensembles get.

Nothing here holds music: a drill is a chart revision and a recipe, and is made again (or read from the kept sheets)
whenever it is looked at.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils import timezone

from studio.models import Ensemble, Job
from tunes.models import ChartRevision


class PracticeItem(models.Model):
    """One drill of one player: when it comes back, how fast it goes, and the memory model's state.

    `digest` names the drill (recipe, key and tune) whatever revision its chart is in; `card` is what the scheduler
    keeps. `tempo` is the fastest at which it went well.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="practice_items")
    revision = models.ForeignKey(ChartRevision, on_delete=models.CASCADE, related_name="practice_items")
    digest = models.CharField(max_length=64)
    wish = models.JSONField(default=dict)
    title = models.CharField(max_length=200)
    card = models.JSONField(default=dict)
    due = models.DateTimeField(default=timezone.now)
    tempo = models.PositiveSmallIntegerField(null=True, blank=True)
    last_went = models.CharField(max_length=10, blank=True)
    last_practised = models.DateTimeField(null=True, blank=True)
    times = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = ["due", "pk"]
        constraints = [models.UniqueConstraint(fields=["user", "digest"], name="one_item_a_drill")]

    def __str__(self) -> str:
        return self.title


class Practice(models.Model):
    """One time that a player practised a drill: evidence, never rewritten."""

    class Went(models.TextChoices):
        FELL_APART = "fell apart", "Fell apart"
        WITH_SLIPS = "with slips", "With slips"
        STEADY = "steady", "Steady"
        WITH_EASE = "with ease", "With ease"

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="practices")
    item = models.ForeignKey(PracticeItem, on_delete=models.CASCADE, related_name="practices")
    revision = models.ForeignKey(ChartRevision, on_delete=models.CASCADE, related_name="practices")
    tempo = models.PositiveSmallIntegerField()  # crotchets a minute
    went = models.CharField(max_length=10, choices=Went.choices)
    note = models.CharField(max_length=300, blank=True)
    token = models.CharField(max_length=36)  # one per form shown, so that a double click counts once
    when = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-when", "-pk"]
        constraints = [models.UniqueConstraint(fields=["user", "token"], name="one_practice_a_form")]
        indexes = [models.Index(fields=["user", "-when"])]

    def __str__(self) -> str:
        return f"{self.item} at {self.tempo}"


class PracticeCue(models.Model):
    """A bar that another part of the site says a player should come back to, such as one missed in a quiz."""

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="practice_cues")
    revision = models.ForeignKey(ChartRevision, on_delete=models.CASCADE, related_name="practice_cues")
    bar = models.PositiveIntegerField()  # printed number
    why = models.CharField(max_length=200)
    source = models.CharField(max_length=80)  # who wrote it, to write it only once
    created = models.DateTimeField(default=timezone.now)
    settled = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["created", "bar"]
        constraints = [models.UniqueConstraint(fields=["user", "revision", "bar", "source"], name="one_cue_a_source")]
        indexes = [models.Index(fields=["user", "settled"])]

    def __str__(self) -> str:
        return f"bar {self.bar}: {self.why}"


class PracticeHabit(models.Model):
    """How a player wants to be reminded to rest; 0 minutes is never."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="practice_habit")
    rest_every = models.PositiveSmallIntegerField(default=25)
    session = models.PositiveSmallIntegerField(default=5)  # drills in a planned session

    def __str__(self) -> str:
        return f"rest every {self.rest_every} minutes"


class KeptLine(models.Model):
    """A line cut from a solo: which notes of it, as they were kept, and what the class calls it. Seen by who sees the solo.

    `functions`, `degrees` and `pattern` say in words what `drills.vocabulary` reads from the notes, to list and to search by.
    """

    solo = models.ForeignKey("tunes.Solo", on_delete=models.CASCADE, related_name="lines")
    kept = models.ForeignKey("tunes.SoloRevision", on_delete=models.CASCADE, related_name="lines")
    first = models.PositiveSmallIntegerField()  # its first and last note in `kept`, from 0
    last = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80, blank=True)
    functions = models.CharField(max_length=200)
    degrees = models.CharField(max_length=300)
    pattern = models.CharField(max_length=200)
    heights = models.CharField(max_length=400, blank=True)  # semitones of each note above the first: "0 3 7"
    by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    created = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-created", "-pk"]
        constraints = [models.UniqueConstraint(fields=["kept", "first", "last"], name="a_line_is_cut_once")]

    def __str__(self) -> str:
        return self.name or self.functions


class LineKey(models.Model):
    """One line in one key, of one player: when it comes back, how fast it goes, whether an instructor has heard it.

    `tonic` is the pitch class, in concert pitch, of the key that the line is counted in. `shown`: the player lets the others of
    the ensemble see in which keys they play this line.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="line_keys")
    line = models.ForeignKey(KeptLine, on_delete=models.CASCADE, related_name="keys")
    tonic = models.PositiveSmallIntegerField()
    card = models.JSONField(default=dict)
    due = models.DateTimeField(default=timezone.now)
    tempo = models.PositiveSmallIntegerField(null=True, blank=True)  # the fastest at which it held
    last_tempo = models.PositiveSmallIntegerField(null=True, blank=True)
    last_went = models.CharField(max_length=10, blank=True)
    last_practised = models.DateTimeField(null=True, blank=True)
    times = models.PositiveIntegerField(default=0)
    shown = models.BooleanField(default=False)
    heard_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    heard_on = models.DateTimeField(null=True, blank=True)
    heard_tempo = models.PositiveSmallIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["due", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["user", "line", "tonic"], name="one_item_a_line_and_key"),
            models.CheckConstraint(condition=models.Q(tonic__lt=12), name="line_key_is_one_of_twelve"),
        ]

    def __str__(self) -> str:
        return f"{self.line} in {self.tonic}"

    @property
    def state(self) -> str:
        """ "heard" by an instructor, "done" when it held the last time, else "begun"."""
        if self.heard_on:
            return "heard"
        if not self.times:
            return "to do"
        return "done" if self.last_went in (Practice.Went.STEADY, Practice.Went.WITH_EASE) else "begun"


class LinePractice(models.Model):
    """One time that a player practised a line in a key: evidence, never rewritten."""

    item = models.ForeignKey(LineKey, on_delete=models.CASCADE, related_name="practices")
    tempo = models.PositiveSmallIntegerField()  # crotchets a minute
    went = models.CharField(max_length=10, choices=Practice.Went.choices)
    note = models.CharField(max_length=300, blank=True)
    token = models.CharField(max_length=36)  # one per form shown, so that a double click counts once
    when = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-when", "-pk"]
        constraints = [models.UniqueConstraint(fields=["item", "token"], name="one_line_practice_a_form")]

    def __str__(self) -> str:
        return f"{self.item} at {self.tempo}"


class Pack(models.Model):
    """A booklet of one tune for a whole ensemble: the chart and chosen drills in every chair's transposition."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="packs")
    revision = models.ForeignKey(ChartRevision, on_delete=models.PROTECT, related_name="packs")
    wishes = models.JSONField(default=list)
    line = models.ForeignKey(KeptLine, null=True, blank=True, on_delete=models.CASCADE, related_name="packs")
    key = models.CharField(max_length=16, blank=True)  # concert key of the day ("Eb major"); empty: as on the chart
    with_chart = models.BooleanField(default=True)
    chart_only = models.JSONField(default=list, blank=True)  # instruments that get the chart and no drills
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.SET_NULL, related_name="+")
    job = models.ForeignKey(Job, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    shared = models.DateTimeField(null=True, blank=True)  # when the players were told
    created = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-created", "-pk"]

    def __str__(self) -> str:
        return f"{self.revision.version.tune} for {self.ensemble}"


class PackPart(models.Model):
    """The pages of one transposition, shared by every chair that reads it. `digest` names the kept file."""

    pack = models.ForeignKey(Pack, on_delete=models.CASCADE, related_name="parts")
    instrument = models.CharField(max_length=40)
    digest = models.CharField(max_length=64, blank=True)
    pages = models.PositiveSmallIntegerField(default=0)
    problem = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["pack", "instrument"], name="one_part_an_instrument")]

    def __str__(self) -> str:
        return self.instrument


from drills.advice.models import TakeAdvice  # noqa: E402, F401
from drills.takes.models import QuickWords, Take, TakeComment, TakeRule  # noqa: E402, F401 (the tables of another room)
