"""A way in for somebody who is locked out, from the machine itself."""

from __future__ import annotations

from argparse import ArgumentParser
from dataclasses import asdict
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from studio.audit import record
from studio.entry import factor, school_rules
from studio.entry.school import rule
from studio.models import AuditEntry, Programme, User
from studio.services.invitations import invite, link


class Command(BaseCommand):
    help = (
        "Takes away a person's second factor and prints a link, good for one use, by which they choose a new password."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("email", help="the address with which the person signs in")
        parser.add_argument(
            "--passwords", action="store_true", help="switch the site's own sign-in on again, for everybody"
        )

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        user = User.objects.filter(email__iexact=options["email"], erased=None).first()
        if user is None:
            raise CommandError(f"Nobody here has the address {options['email']}.")
        if not user.is_active:
            raise CommandError(f"The account of {user.email} is closed: a director opens it again.")
        if options["passwords"]:
            school_rules.decide(asked=asdict(rule(Programme.current().sign_in_rules)) | {"passwords": True}, by=None)
            self.stdout.write("The site's own sign-in is on.")
        if factor.reset(user=user, by=None):
            self.stdout.write("The second factor is taken away; every sign-in has ended.")
        record(AuditEntry.Kind.LOGIN, "Link for a new password made at the machine", about=user)
        self.stdout.write(f"Good for one use: {link(invite(user, by=None))}")
