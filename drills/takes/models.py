"""What players record on the page, and what is said about it at a bar.

A take on the server is a chosen one; the others stay on the player's device. It belongs to its player alone until it is
given to an ensemble (handed in, pointed to at a sign-off): from then on who leads that ensemble hears it too.
"""

from __future__ import annotations

import uuid
from typing import Any

from django.conf import settings
from django.db import models, transaction
from django.db.models import Q
from django.db.models.signals import post_delete
from django.dispatch import receiver
from django.utils import timezone

from studio.models import Ensemble
from tunes.storage import PrivateStorage


def take_path(_take: Any, _name: str) -> str:
    """A name of our own making: nothing that was typed reaches the file system."""
    return f"takes/{uuid.uuid4().hex}"


def spoken_path(_comment: Any, _name: str) -> str:
    return f"takes/spoken/{uuid.uuid4().hex}"


class Take(models.Model):
    """One recording of a player and what it is a recording of.

    starts_at  seconds of the file where the first beat of the first chorus was to sound; the count-in lies before it.
    played     what was to be played, one chorus, as it was asked: {"version": 1, "bars": [[printed number, start, length,
               beats, unit]], "notes": [[start, duration, sounding MIDI number]]}, times in crotchets from its beginning. A
               solo has no notes. Kept here, so that a change of the drill or of its chart leaves an old take readable.
    swing      long to short of two quavers, 1 even. leak: level of the microphone (dB below full scale) while the band
               sounded and nobody played, None where it was not tried. peaks: 0 to 99, `PEAKS` a second;
               none until they are drawn in the background.
    gone       since when its sound is deleted, by the rule or by hand; what was said about it stays.
    """

    class Kind(models.TextChoices):
        DRILL = "drill", "Drill"
        LINE = "line", "Line"
        MELODY = "melody", "Melody"
        CHORUS = "chorus", "Solo"

    class HeardWith(models.TextChoices):
        BAND = "band", "the band"
        CHANGES = "changes", "bass and chords"
        CLICK = "click", "a click"
        NOTHING = "nothing", "nothing"

    PEAKS = 20

    player = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="takes")
    ensemble = models.ForeignKey(Ensemble, null=True, blank=True, on_delete=models.SET_NULL, related_name="takes")
    kind = models.CharField(max_length=8, choices=Kind.choices)
    revision = models.ForeignKey(
        "tunes.ChartRevision", null=True, blank=True, on_delete=models.SET_NULL, related_name="takes"
    )
    line = models.ForeignKey("drills.KeptLine", null=True, blank=True, on_delete=models.SET_NULL, related_name="takes")
    query = models.CharField(max_length=1000, blank=True)
    title = models.CharField(max_length=200)
    instrument = models.CharField(max_length=40, blank=True)
    tempo = models.PositiveSmallIntegerField()  # crotchets a minute
    swing = models.FloatField(default=1.0)
    starts_at = models.FloatField()
    choruses = models.PositiveSmallIntegerField(default=1)
    heard_with = models.CharField(max_length=8, choices=HeardWith.choices, default=HeardWith.CLICK)
    leak = models.FloatField(null=True, blank=True)
    played = models.JSONField(default=dict)
    file = models.FileField(upload_to=take_path, storage=PrivateStorage(), blank=True)
    media_type = models.CharField(max_length=40)
    size = models.PositiveBigIntegerField()  # bytes
    duration = models.FloatField()  # seconds
    digest = models.CharField(max_length=64)  # SHA-256 of the stored bytes: the entity tag
    peaks = models.JSONField(default=list)
    rubric = models.JSONField(default=dict)  # the programme's question → the instructor's word
    token = models.UUIDField()  # made on the device: the same take sent twice is kept once
    made = models.DateTimeField(default=timezone.now)
    created = models.DateTimeField(auto_now_add=True)
    gone = models.DateTimeField(null=True, blank=True)
    gone_why = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["-made", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["player", "token"], name="a_take_is_kept_once"),
            models.CheckConstraint(condition=Q(tempo__gte=20, starts_at__gte=0, swing__gte=1), name="take_in_time"),
        ]
        indexes = [
            models.Index(fields=["player", "-made"], name="take_by_player"),
            models.Index(fields=["made"], condition=Q(gone=None), name="take_by_age"),
        ]

    def __str__(self) -> str:
        return self.title


class TakeComment(models.Model):
    """What an instructor says where a take stands at a bar and beat, typed or spoken; the player may answer once.

    `bar` counts the bars of a chorus from 0 as `Take.played` lists them, `beat` is in crotchets from the start of the bar.
    """

    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="comments")
    chorus = models.PositiveSmallIntegerField(default=1)
    bar = models.PositiveSmallIntegerField()
    beat = models.FloatField(default=0)
    text = models.CharField(max_length=1000, blank=True)
    file = models.FileField(upload_to=spoken_path, storage=PrivateStorage(), blank=True)
    media_type = models.CharField(max_length=40, blank=True)
    size = models.PositiveBigIntegerField(default=0)
    seconds = models.FloatField(default=0)  # of what was spoken
    digest = models.CharField(max_length=64, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    created = models.DateTimeField(auto_now_add=True)
    token = models.UUIDField(default=uuid.uuid4)
    answer = models.CharField(max_length=500, blank=True)
    answered = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["chorus", "bar", "beat", "pk"]
        constraints = [models.UniqueConstraint(fields=["take", "token"], name="take_comment_once")]

    def __str__(self) -> str:
        return self.text[:60] or f"spoken, {self.seconds:.0f} s"


class TakeRule(models.Model):
    """How long the programme keeps the sound of takes, and its words for a take as a whole. There is never a second row.

    `months` 0: until somebody deletes it. `rubric`: [[question, [word, …]], …], [] for none.
    """

    months = models.PositiveSmallIntegerField(default=12)
    rubric = models.JSONField(default=list)

    def __str__(self) -> str:
        return f"kept {self.months} months" if self.months else "kept until deleted"

    @classmethod
    def current(cls) -> TakeRule:
        """The rule, or the unsaved usual one."""
        return cls.objects.order_by("pk").first() or cls()


class QuickWords(models.Model):
    """What an instructor says often, one press each."""

    user = models.OneToOneField(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="quick_words")
    words = models.JSONField(default=list)

    def __str__(self) -> str:
        return ", ".join(self.words)


@receiver(post_delete, sender=Take, dispatch_uid="take-file")
@receiver(post_delete, sender=TakeComment, dispatch_uid="spoken-file")
def delete_file(instance: Any, using: str, **_: Any) -> None:
    """The file goes with its row, whoever deletes the row (a person erased takes their takes along), once that holds."""
    if instance.file:
        storage, name = instance.file.storage, instance.file.name
        transaction.on_commit(lambda: storage.delete(name), using=using)
