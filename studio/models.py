"""People and groups of one programme."""
from __future__ import annotations

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.db import models
from django.db.models.functions import Lower


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
    instrument = models.CharField(max_length=40, blank=True)  # key into studio.instruments.INSTRUMENTS
    is_active = models.BooleanField(default=True)
    is_staff = models.BooleanField(default=False)
    created = models.DateTimeField(auto_now_add=True)

    objects = UserManager()
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [models.UniqueConstraint(Lower("email"), name="one_account_per_email")]

    def __str__(self) -> str:
        return self.name


class Term(models.Model):
    name = models.CharField(max_length=80, unique=True)
    starts = models.DateField()
    ends = models.DateField()

    class Meta:
        ordering = ["-starts"]

    def __str__(self) -> str:
        return self.name


class Ensemble(models.Model):
    name = models.CharField(max_length=80)
    term = models.ForeignKey(Term, on_delete=models.PROTECT, related_name="ensembles")

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["name", "term"], name="ensemble_name_once_a_term")]

    def __str__(self) -> str:
        return self.name


class Membership(models.Model):
    """One person's chair in one ensemble: as player (with an instrument) or as instructor."""

    class Role(models.TextChoices):
        PLAYER = "player", "Player"
        INSTRUCTOR = "instructor", "Instructor"

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.PLAYER)
    instrument = models.CharField(max_length=40, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "ensemble"], name="one_chair_each")]

    def __str__(self) -> str:
        return f"{self.user} in {self.ensemble} as {self.get_role_display()}"
