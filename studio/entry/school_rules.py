"""Changes of what is decided about the school's sign-in; each stands in the log."""

from __future__ import annotations

from dataclasses import asdict

from allauth.socialaccount.models import SocialAccount
from django.db import transaction

from studio.audit import record
from studio.entry.school import KEPT_AS, SchoolRule, rule
from studio.models import AuditEntry, ClaimRule, Programme, User

SETTING = AuditEntry.Kind.SETTING
SAID = {
    "create": ("The school's sign-in makes accounts", "The school's sign-in makes no accounts"),
    "passwords": ("The site's own sign-in is on", "The site's own sign-in is off"),
    "counts": ("The school's sign-in counts as a second factor", "The school's sign-in is no second factor"),
}


@transaction.atomic
def decide(*, asked: dict[str, bool], by: User | None) -> None:
    """Save the decisions, as `SchoolRule` names them. `by` None: somebody at the machine."""
    programme = Programme.objects.select_for_update().order_by("pk").first() or Programme()
    before, after = asdict(rule(programme.sign_in_rules)), asdict(SchoolRule(**asked))
    programme.sign_in_rules = programme.sign_in_rules | {KEPT_AS: after}
    programme.save()
    for name, (on, off) in SAID.items():
        if before[name] != after[name]:
            record(SETTING, on if after[name] else off, by=by)


@transaction.atomic
def add_claim(*, row: ClaimRule, by: User) -> None:
    """Add a row to the table of claims."""
    row.save()
    record(SETTING, f"Claim added: {row}", by=by)


@transaction.atomic
def remove_claim(*, row: ClaimRule, by: User) -> None:
    """Take a row out of the table of claims."""
    record(SETTING, f"Claim removed: {row}", by=by)
    row.delete()


@transaction.atomic
def untie(*, user: User, by: User | None) -> None:
    """Forget which account of the school opens a person's. Roles that claims gave stay, as given by hand."""
    if SocialAccount.objects.filter(user=user).delete()[0]:
        record(AuditEntry.Kind.LOGIN, "Untied from the school's sign-in", by=by, about=user)
