"""Reading people, terms, ensembles. Every list here takes the same number of queries however long it is."""

from __future__ import annotations

import datetime as dt

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet
from django.utils import timezone

from studio import addresses
from studio.models import Ensemble, Invitation, Membership, Term, User


def people(*, search: str = "", show: str = "") -> QuerySet[User]:
    """Everyone, by name, with their chairs of running terms in `current_chairs`.

    `search` looks in name, e-mail, school id (the whole of it) and ensembles; `show` is "", "waiting" (to be invited), "no-address" or "closed".
    """
    today = timezone.localdate()
    chairs = Membership.objects.filter(
        ensemble__term__starts__lte=today, ensemble__term__ends__gte=today
    ).select_related("ensemble", "user")
    found = User.objects.prefetch_related(
        Prefetch("memberships", chairs.order_by("ensemble__name"), to_attr="current_chairs")
    ).annotate(is_invited=Exists(open_invitations().filter(user=OuterRef("pk"))))
    if show == "waiting":
        found = found.filter(pk__in=waiting_people())
    elif show == "no-address":
        found = found.filter(is_active=True, email__endswith=addresses.NOWHERE)
    elif show == "closed":
        found = found.filter(is_active=False)
    for word in search.split()[:6]:
        # One list for each word: asked of every person by themselves, it would read every chair that they ever had.
        in_ensemble = Membership.objects.filter(ensemble__name__icontains=word).values("user")
        found = found.filter(
            Q(name__icontains=word) | Q(email__icontains=word) | Q(school_id=word) | Q(pk__in=in_ensemble)
        )
    return found.order_by("name", "pk")


def open_invitations() -> QuerySet[Invitation]:
    return Invitation.objects.filter(used=None, expires__gt=timezone.now())


def waiting_people() -> QuerySet[User]:
    """People on the roster who have not made their account yet and can be written to."""
    return User.objects.filter(password__startswith="!", is_active=True).exclude(email__endswith=addresses.NOWHERE)


def is_unused(ensemble: Ensemble) -> bool:
    """Whether nobody sits in an ensemble and nothing was ever kept for it, by everything that can point at one."""
    return not any(
        row.related_model._base_manager.filter(**{row.field.name: ensemble}).exists()
        for row in Ensemble._meta.related_objects
    )


def terms() -> QuerySet[Term]:
    """Terms, newest first, with `size`."""
    return Term.objects.annotate(size=Count("ensembles")).order_by("-starts")


def current_term(day: dt.date | None = None) -> Term | None:
    """The running term, else the next one, else the last one."""
    day = day or timezone.localdate()
    running = Term.objects.on(day).order_by("starts").first()
    return running or Term.objects.filter(starts__gt=day).order_by("starts").first() or Term.objects.first()


def ensembles_of(term: Term) -> QuerySet[Ensemble]:
    """Ensembles of a term with the number of `players` and their `leaders`."""
    leaders = Membership.objects.leading().select_related("user").order_by("user__name")
    return (
        term.ensembles.annotate(players=Count("memberships", filter=Q(memberships__role=Membership.Role.PLAYER)))
        .prefetch_related(Prefetch("memberships", leaders, to_attr="leaders"))
        .order_by("name")
    )


def players_of(ensemble: Ensemble) -> QuerySet[User]:
    """Who plays in an ensemble, by name."""
    chairs = Membership.objects.filter(ensemble=ensemble, role=Membership.Role.PLAYER)
    return User.objects.filter(pk__in=chairs.values("user_id")).order_by("name", "pk")


def chairs_of(ensemble: Ensemble) -> QuerySet[Membership]:
    """Instructors first, then players by name."""
    return ensemble.memberships.select_related("user").order_by("role", "user__name", "pk")
