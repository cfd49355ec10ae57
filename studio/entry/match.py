"""Who is meant by an answer of the school's sign-in, and which roles its claims give.

In this order: whoever came with the same number of the provider before; the school id of the roster, where a claim holds it;
an e-mail address that the provider has verified (and vouches for). An account that is tied to one number of the provider is
never opened by another. Everything stands in the log.
"""

from __future__ import annotations

from typing import Any

from allauth.account.internal.emailkit import valid_email_or_none
from allauth.socialaccount.models import SocialAccount
from django.db import transaction
from django.utils import timezone

from studio.audit import record
from studio.entry.school import School, SchoolRule, rule
from studio.models import AuditEntry, ClaimRule, Membership, Programme, User
from studio.notices import notify
from studio.roster import LONGEST_ID

LOGIN, ROLE = AuditEntry.Kind.LOGIN, AuditEntry.Kind.ROLE
DIRECTOR = "director"
MORE = "The school’s sign-in went well, but "


class NotLetIn(Exception):
    """This person does not come in; the words are for them."""

    def __init__(self, words: str, heading: str = "You are not known here", *, about: User | None = None) -> None:
        super().__init__(words)
        self.heading, self.about = heading, about


def settle(account: SocialAccount, claims: dict[str, Any], *, school: School) -> User:
    """Put the person on `account`, tie the two together, and give the roles of the claims. Raises `NotLetIn`."""
    try:
        return _settled(account, claims, school)
    except NotLetIn as refused:
        if refused.about is not None:
            record(LOGIN, "Sign-in by the school refused: another account of the school", about=refused.about)
        raise


@transaction.atomic
def _settled(account: SocialAccount, claims: dict[str, Any], school: School) -> User:
    kept = SocialAccount.objects.select_for_update().filter(provider=account.provider, uid=account.uid).first()
    user: User
    if kept is not None:
        account.pk, account.extra_data, user = kept.pk, kept.extra_data, kept.user
    else:
        user = _meant(claims, school, rule(Programme.current().sign_in_rules))
    if not user.is_active or user.erased:
        raise NotLetIn(f"{MORE}your account here is closed. Ask the director.", "This account is closed")
    account.user = user
    account.extra_data = {"given": _give(user, claims, set((account.extra_data or {}).get("given", [])))}
    account.date_joined = kept.date_joined if kept else timezone.now()
    account.save()
    if kept is None:
        record(LOGIN, "Tied to the school's sign-in", by=user, about=user)
        notify(
            user, "school", "Your account was tied to the school’s sign-in. Was it not you? Tell the director.", "/me/"
        )
    return user


def verified_email(claims: dict[str, Any], school: School) -> str:
    """The address that the provider vouches for, "" when there is none."""
    email = valid_email_or_none(str(claims.get("email") or "")) or ""
    sure = claims.get("email_verified") in (True, "true")  # some providers write the word (common practice, no source)
    domain = email.rpartition("@")[2].lower()
    return email.lower() if sure and (not school.domains or domain in school.domains) else ""


def _meant(claims: dict[str, Any], school: School, decided: SchoolRule) -> User:
    email = verified_email(claims, school)
    number = str(claims.get(school.roster_claim) or "").strip() if school.roster_claim else ""
    if len(number) > LONGEST_ID or not number.isprintable():
        number = ""  # no school id: such a one can be kept for nobody
    people = User.objects.select_for_update()
    user = people.filter(school_id=number).first() if number else None
    user = user or (people.filter(email__iexact=email).first() if email else None)
    if user is None:
        return _new(claims, email, number, decided)
    if number and user.school_id and user.school_id != number:
        raise NotLetIn(f"{MORE}this address belongs to somebody with another school id. Tell the director.", about=user)
    if SocialAccount.objects.filter(user=user).exists():
        raise NotLetIn(
            f"{MORE}this account is tied to another account of the school. A director can untie it.", about=user
        )
    if email and not user.address and not people.filter(email__iexact=email).exists():
        User.objects.filter(pk=user.pk).update(email=email)
        user.email = email
        record(ROLE, "E-mail address taken from the school's sign-in", about=user)
    if number and not user.school_id:
        User.objects.filter(pk=user.pk).update(school_id=number)
        user.school_id = number
        record(ROLE, "School id taken from the school's sign-in", about=user)
    return user


def _new(claims: dict[str, Any], email: str, number: str, decided: SchoolRule) -> User:
    if not decided.create or not email:
        if claims.get("email") and not email:
            why = f"it does not vouch for the address {claims['email']}"
        else:
            why = f"nobody in the programme has the address {email}" if email else "it tells no e-mail address"
        raise NotLetIn(f"{MORE}{why}. Ask the director to add you with the address of your school account.")
    user = User(email=email, name=str(claims.get("name") or email.partition("@")[0])[:120], school_id=number)
    user.set_unusable_password()
    user.save()
    record(ROLE, "Added to the programme by the school's sign-in", about=user)
    return user


def _holds(claims: dict[str, Any], row: ClaimRule) -> bool:
    """Whether a claim is, or holds among several, the value of a row."""
    said = claims.get(row.claim)
    return row.value in ([str(one) for one in said] if isinstance(said, list) else [str(said)])


def _give(user: User, claims: dict[str, Any], before: set[str]) -> list[str]:
    """Give what the table says, take away what it gave at an earlier sign-in and says no more; what the claims gave.

    What a director gave by hand is never taken.
    """
    rows = [row for row in ClaimRule.objects.select_related("ensemble__term") if _holds(claims, row)]
    given = {row.gives for row in rows}
    for row in rows:
        if row.gives not in before and not _give_one(user, row):
            given.discard(row.gives)
    for name in sorted(before - given):
        if not _take_one(user, name):
            given.add(name)
    return sorted(given)


def _give_one(user: User, row: ClaimRule) -> bool:
    """True when it was not there before."""
    if row.role == DIRECTOR:
        changed = bool(User.objects.filter(pk=user.pk, is_director=False).update(is_director=True))
        user.is_director = True
        text = "Made a director by the school's claims"
    elif row.ensemble is None or row.ensemble.term.is_over:
        return False
    else:
        fields = {"role": row.role, "instrument": user.instrument if row.role == Membership.Role.PLAYER else ""}
        chair, changed = Membership.objects.get_or_create(user=user, ensemble=row.ensemble, defaults=fields)
        text = f"Chair given by the school's claims: {chair.said}"
    if changed:
        record(ROLE, text, about=user)
    user.__dict__.pop("_chairs", None)
    return changed


def _take_one(user: User, name: str) -> bool:
    """False where it cannot be: the last director stays one."""
    role, _, ensemble = name.partition(":")
    if role == DIRECTOR:
        if not User.objects.filter(is_director=True, is_active=True).exclude(pk=user.pk).exists():
            return False
        User.objects.filter(pk=user.pk).update(is_director=False)
        user.is_director = False
        record(ROLE, "No director any more, by the school's claims", about=user)
        return True
    chair = Membership.objects.filter(user=user, role=role, ensemble_id=int(ensemble)).first()
    if chair is not None:
        record(ROLE, f"Chair taken away by the school's claims: {chair.said}", about=user)
        chair.delete()
    user.__dict__.pop("_chairs", None)
    return True
