"""Second factors: who has one, who needs one and by when, and taking it away when somebody has lost theirs.

`User.second_factor` repeats what the account library's table says, so that no page has to ask for it; it is kept here, by
every change of that table.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

from allauth.mfa.models import Authenticator
from django.db import transaction
from django.db.models import Count, Q
from django.db.models.signals import post_delete, post_save
from django.utils import timezone

from studio import access
from studio.audit import record
from studio.entry import rules, sessions
from studio.models import AuditEntry, Membership, Programme, User
from studio.notices import notify

PRIMARY = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)  # recovery codes are none of their own


def _keep(instance: Authenticator, **_: Any) -> None:
    held = Authenticator.objects.filter(user_id=instance.user_id, type__in=PRIMARY).exists()
    User.objects.filter(pk=instance.user_id).update(second_factor=held)


for _signal in (post_save, post_delete):
    _signal.connect(_keep, sender=Authenticator, dispatch_uid="second-factor-kept")


def is_asked(user: User, programme: Programme) -> bool:
    """Whether a role of this person needs a second factor."""
    kept = rules.read(programme.sign_in_rules)
    asking = {role for role, rule in kept.items() if rule.factor_since}
    return bool(asking and asking & access.roles_held(user))


def due(user: User, programme: Programme) -> dt.datetime | None:
    """By when this person, who has none, needs a second factor; None: it is not asked, or they have one.

    The first time that it is asked of a person is kept, so that each has the whole term of grace.
    """
    if user.second_factor or not is_asked(user, programme):
        return None
    if user.factor_asked is None:
        user.factor_asked = timezone.now()
        User.objects.filter(pk=user.pk, factor_asked=None).update(factor_asked=user.factor_asked)
    kept = rules.read(programme.sign_in_rules)
    return rules.factor_due((kept[role] for role in access.roles_held(user)), user.factor_asked)


def may_take_away(authenticator: Authenticator) -> bool:
    """Not the last one of a person who needs one."""
    user = authenticator.user
    others = Authenticator.objects.filter(user=user, type__in=PRIMARY).exclude(pk=authenticator.pk)
    return others.exists() or not is_asked(user, Programme.current())


@transaction.atomic
def reset(*, user: User, by: User | None) -> bool:
    """Take every second factor of a person away and end their sign-ins; False when there was none.

    `by` None: somebody at the machine. A role that needs one asks for a new one at the next sign-in, without more grace
    than the person has left.
    """
    if not Authenticator.objects.filter(user=user).delete()[0]:
        return False
    sessions.end_all(user=user)
    user.second_factor = False
    record(
        AuditEntry.Kind.LOGIN, f"Second factor reset {'by a director' if by else 'at the machine'}", by=by, about=user
    )
    notify(user, "second-factor", "Your second factor was taken away. Set up a new one.", "/account/second-factor/")
    return True


@transaction.atomic
def set_rules(*, asked: dict[str, dict[str, Any]], by: User) -> None:
    """Save what is asked of each role: {"factor", "grace", "hours"}; each change stands in the log."""
    programme = Programme.objects.select_for_update().order_by("pk").first() or Programme()
    before, now = rules.read(programme.sign_in_rules), timezone.now()
    after = {role: rules.changed(before[role], **asked[role], now=now) for role in rules.ROLES}
    programme.sign_in_rules = programme.sign_in_rules | rules.written(after)
    programme.save()
    for role in rules.ROLES:
        if before[role] != after[role]:
            record(AuditEntry.Kind.SETTING, f"{rules.ROLES[role]}: {rules.said(after[role])}", by=by)


def held_by_role() -> dict[str, tuple[int, int]]:
    """How many people of each role have a second factor, and how many there are. Two queries."""
    active = User.objects.filter(is_active=True)
    directors = Q(is_director=True)
    led = Q(pk__in=Membership.objects.leading().values("user"))
    played = Q(pk__in=Membership.objects.filter(role=Membership.Role.PLAYER).values("user"))
    with_one = Q(second_factor=True)
    wanted = {rules.DIRECTOR: directors, rules.INSTRUCTOR: led, rules.PLAYER: played}
    counts = {f"{role}_all": Count("pk", filter=fits) for role, fits in wanted.items()}
    counts |= {f"{role}_have": Count("pk", filter=fits & with_one) for role, fits in wanted.items()}
    found = active.aggregate(**counts)
    return {role: (found[f"{role}_have"], found[f"{role}_all"]) for role in wanted}
