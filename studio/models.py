"""People and groups of one programme."""

from __future__ import annotations

import datetime as dt
import secrets
import uuid
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone

from studio import addresses
from studio.instruments import INSTRUMENTS, instrument_list
from studio.storage import private_files


class Programme(models.Model):
    """The one programme that this site serves: its name and its clock. There is never a second row."""

    name = models.CharField(max_length=120, default="Jazz studies")
    time_zone = models.CharField(max_length=64, default="UTC")
    is_demo = models.BooleanField(default=False)
    keep_years = models.PositiveSmallIntegerField(null=True, blank=True)  # after leaving; None: until somebody erases
    sign_in_rules = models.JSONField(default=dict, blank=True)  # `studio.entry.rules`

    def __str__(self) -> str:
        return self.name

    @classmethod
    def current(cls) -> Programme:
        """The programme, or an unsaved default before set-up."""
        return cls.objects.order_by("pk").first() or cls()


class UserManager(BaseUserManager["User"]):
    use_in_migrations = True

    def create_user(self, email: str, name: str, password: str | None = None, **extra: object) -> User:
        user = self.model(email=self.normalize_email(email).lower(), name=name, **extra)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, name: str, password: str | None = None, **extra: object) -> User:
        return self.create_user(email, name, password, is_director=True, is_staff=True, is_superuser=True, **extra)


class User(AbstractBaseUser, PermissionsMixin):
    """A person who signs in by e-mail. What they may do follows from `is_director` and their memberships."""

    email = models.EmailField(unique=True)
    name = models.CharField(max_length=120)
    is_director = models.BooleanField(default=False)
    school_id = models.CharField(max_length=80, blank=True)  # the number under which the school's systems know them
    instrument = models.CharField(max_length=40, blank=True)  # key into studio.instruments.INSTRUMENTS
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False)
    created = models.DateTimeField(auto_now_add=True)
    theme = models.CharField(
        max_length=5, blank=True, choices=[("", "As the device"), ("light", "Light"), ("dark", "Dark")]
    )
    wants_digest = models.BooleanField(default=True)
    digest_sent = models.DateTimeField(null=True, blank=True)
    erased = models.DateTimeField(null=True, blank=True)  # since then nobody: `studio.privacy`
    second_factor = models.BooleanField(default=False, editable=False)  # has one; kept by `studio.entry.factor`
    factor_asked = models.DateTimeField(null=True, blank=True, editable=False)  # since when a role of theirs needs one

    objects = UserManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [
            models.UniqueConstraint(Lower("email"), name="one_account_per_email"),
            models.UniqueConstraint(
                fields=["school_id"],
                condition=~models.Q(school_id=""),
                name="one_account_per_school_id",
                violation_error_message="Somebody has this school id already; look among the people.",
            ),
        ]

    service = ""  # its name, on the object that stands for a service in one call (`api.tokens`): no row, id 0

    def __str__(self) -> str:
        return self.name

    @property
    def address(self) -> str:
        """The e-mail address, "" while none is known."""
        return self.email if addresses.is_known(self.email) else ""

    @property
    def is_set_up(self) -> bool:
        """False for a person on the roster who has not yet followed the invitation."""
        return self.has_usable_password()

    @property
    def instrument_name(self) -> str:
        return INSTRUMENTS[self.instrument].name if self.instrument in INSTRUMENTS else ""


class TermQuerySet(models.QuerySet["Term"]):
    def on(self, day: dt.date) -> TermQuerySet:
        return self.filter(starts__lte=day, ends__gte=day)


class Term(models.Model):
    name = models.CharField(max_length=80, unique=True)
    starts = models.DateField()
    ends = models.DateField()

    objects = TermQuerySet.as_manager()

    class Meta:
        ordering = ["-starts"]
        constraints = [
            models.CheckConstraint(condition=models.Q(ends__gte=models.F("starts")), name="term_ends_after_start")
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_over(self) -> bool:
        return self.ends < timezone.localdate()


class EnsembleQuerySet(models.QuerySet["Ensemble"]):
    def running_first(self) -> EnsembleQuerySet:
        """For lists of choices: the ensembles of running terms, then those to come, then ended ones, latest first."""
        today = timezone.localdate()
        place = models.Case(
            models.When(term__ends__lt=today, then=2), models.When(term__starts__gt=today, then=1), default=0
        )
        return self.select_related("term").order_by(place, "-term__starts", "name")


class Ensemble(models.Model):
    name = models.CharField(max_length=80)
    term = models.ForeignKey(Term, on_delete=models.PROTECT, related_name="ensembles")

    objects = EnsembleQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["name", "term"], name="ensemble_name_once_a_term")]

    def __str__(self) -> str:
        return self.name

    @property
    def in_term(self) -> str:
        """The name with its term, for choices: the same ensemble comes back term after term."""
        return f"{self.name}, {self.term.name}{' (ended)' if self.term.is_over else ''}"


class MembershipQuerySet(models.QuerySet["Membership"]):
    def leading(self, day: dt.date | None = None) -> MembershipQuerySet:
        """Chairs that lead on a day (today): those without dates, and a substitute's between its dates."""
        day = day or timezone.localdate()
        begun = models.Q(begins=None) | models.Q(begins__lte=day)
        return self.filter(begun, models.Q(ends=None) | models.Q(ends__gte=day), role=Membership.Role.INSTRUCTOR)


class Membership(models.Model):
    """One person's chair in one ensemble: as player (with an instrument) or as instructor.

    `begins` and `ends` (both days included) are set for a substitute who leads for some days and has no rights outside
    them. `doubles` are the further instruments played in it, as keys of the table: a reed player's flute and clarinet. Quizzes
    are written for `instrument`; charts and drills for the one that the person chooses.
    """

    class Role(models.TextChoices):
        PLAYER = "player", "Player"
        INSTRUCTOR = "instructor", "Instructor"

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.PLAYER)
    instrument = models.CharField(max_length=40, blank=True)
    doubles = models.JSONField(default=list, blank=True)
    begins = models.DateField(null=True, blank=True)
    ends = models.DateField(null=True, blank=True)

    objects = MembershipQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "ensemble"], name="one_chair_each")]

    def __str__(self) -> str:
        return f"{self.user} in {self.ensemble} as {self.get_role_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        super().save(*args, **kwargs)
        self.user.__dict__.pop("_chairs", None)  # studio.access keeps what it read on the user

    @property
    def said(self) -> str:
        """The chair in words that name no person."""
        days = f", {self.begins:%-d %b} to {self.ends:%-d %b %Y}" if self.begins and self.ends else ""
        return f"{self.get_role_display().lower()} in {self.ensemble.in_term}{days}"

    @property
    def instrument_name(self) -> str:
        return instrument_list([self.instrument or self.user.instrument, *self.doubles])

    @property
    def is_substitute(self) -> bool:
        """Leads for some days only."""
        return self.role == self.Role.INSTRUCTOR and self.ends is not None


def new_token() -> str:
    return secrets.token_urlsafe(24)


class Invitation(models.Model):
    """A single-use link by which one person makes or resets the way into one account."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="invitations")
    token = models.CharField(max_length=64, unique=True, default=new_token)
    invited_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    created = models.DateTimeField(default=timezone.now)
    expires = models.DateTimeField()
    used = models.DateTimeField(null=True, blank=True)
    mailed = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"Invitation of {self.user}"

    @property
    def is_open(self) -> bool:
        return self.used is None and self.expires > timezone.now()


class Message(models.Model):
    """Plain words from who leads an ensemble to some or all of its players; never changed, kept for both sides."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="messages")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    to = models.ManyToManyField(User, related_name="messages")
    to_all = models.BooleanField(default=False)
    text = models.TextField(max_length=2000)
    created = models.DateTimeField(default=timezone.now)
    token = models.UUIDField(unique=True)  # of the form: a double click sends once

    class Meta:
        ordering = ["-created", "-pk"]

    def __str__(self) -> str:
        return self.text[:60]


class Notice(models.Model):
    """Something a person should know: shown in the app at once, told by e-mail in the daily digest."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="notices")
    kind = models.CharField(max_length=40)
    text = models.CharField(max_length=300)
    url = models.CharField(max_length=300, blank=True)
    created = models.DateTimeField(default=timezone.now)
    seen = models.DateTimeField(null=True, blank=True)
    mailed = models.DateTimeField(null=True, blank=True)
    message = models.ForeignKey(Message, null=True, blank=True, on_delete=models.CASCADE, related_name="notices")

    class Meta:
        ordering = ["-created", "-pk"]
        indexes = [models.Index(fields=["user", "seen"]), models.Index(fields=["mailed", "user"])]

    def __str__(self) -> str:
        return self.text


class Job(models.Model):
    """Background work that a person can watch, leave and come back to."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"

    owner = models.ForeignKey(User, on_delete=models.CASCADE, related_name="jobs", null=True)
    kind = models.CharField(max_length=40)
    payload = models.JSONField(default=dict)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    done = models.PositiveIntegerField(default=0)
    total = models.PositiveIntegerField(default=0)
    attempts = models.PositiveIntegerField(default=0)
    message = models.CharField(max_length=300, blank=True)
    result = models.JSONField(default=dict)
    created = models.DateTimeField(default=timezone.now)
    heartbeat = models.DateTimeField(null=True, blank=True)
    finished = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created"]
        indexes = [models.Index(fields=["state", "heartbeat"])]

    def __str__(self) -> str:
        return f"{self.kind}: {self.get_state_display()}"

    @property
    def is_over(self) -> bool:
        return self.state in {self.State.DONE, self.State.FAILED}


class WorkerBeat(models.Model):
    """When each worker last said that it is alive."""

    name = models.CharField(max_length=80, unique=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.name} at {self.at:%H:%M:%S}"


class Housekeeping(models.Model):
    """One part of the worker's round: when it last went well, since when and why it fails, when it is tried again."""

    name = models.CharField(max_length=40, unique=True)
    done = models.DateTimeField(null=True, blank=True)
    tried = models.DateTimeField(null=True, blank=True)
    failed = models.DateTimeField(null=True, blank=True)
    failures = models.PositiveIntegerField(default=0)
    problem = models.CharField(max_length=500, blank=True)
    next_try = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.name}: {self.problem or 'well'}"


def kept_path(_row: Any, _name: str) -> str:
    """A name of our own making: nothing that was typed reaches the file system."""
    return f"kept/{uuid.uuid4().hex}"


class KeptFile(models.Model):
    """A file of a form that was refused for something else; it waits a day for the next try (`studio.keeping`)."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    token = models.UUIDField(unique=True, default=uuid.uuid4)
    purpose = models.CharField(max_length=40)
    name = models.CharField(max_length=160)
    size = models.PositiveBigIntegerField()  # bytes
    file = models.FileField(storage=private_files, upload_to=kept_path)
    created = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return self.name


class SetupLink(models.Model):
    """The one-time link by which the first director makes an account."""

    token = models.CharField(max_length=64, unique=True, default=new_token)
    created = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return "Set-up link"


from studio.models_audit import AuditEntry, PersonalArchive, PlannedErasure  # noqa: E402
from studio.models_entry import ClaimRule, SignIn  # noqa: E402

__all__ = [
    "AuditEntry",
    "ClaimRule",
    "Ensemble",
    "EnsembleQuerySet",
    "Housekeeping",
    "Invitation",
    "Job",
    "KeptFile",
    "Membership",
    "MembershipQuerySet",
    "Message",
    "Notice",
    "PersonalArchive",
    "PlannedErasure",
    "Programme",
    "SetupLink",
    "SignIn",
    "Term",
    "TermQuerySet",
    "User",
    "UserManager",
    "WorkerBeat",
    "kept_path",
    "new_token",
]
