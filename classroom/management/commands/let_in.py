"""`manage.py let_in USERNAME`: the way back for somebody whom guesses hold out, at the server."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.hashers import make_password
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction

from classroom.models import User, record
from classroom.signin.known_devices import door_code_of
from classroom.signin.passphrases import new_passphrase
from classroom.signin.slowing import forget_account


class Command(BaseCommand):
    help = (
        "Ends the pause of somebody's sign-in and prints the door code, with which guesses that go "
        "on do not hold them up; with --new-passphrase also a new passphrase. Exit 2 where there "
        "is no such account, or it is closed."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username", help="as at sign-in, such as marit.quay")
        parser.add_argument(
            "--new-passphrase",
            action="store_true",
            help="also give the account a new passphrase; the one before is worth nothing then",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        name = options["username"].strip().lower()
        person = User.objects.select_related("school").filter(username=name).first()
        if person is None:
            raise CommandError(f"Nobody here has the user name “{name}”.", returncode=2)
        if not person.is_active:
            raise CommandError(
                f"The account of {person} is closed. A teacher who looks after the school's "
                "settings opens it there.",
                returncode=2,
            )
        passphrase = self._open_door(person, renewed=options["new_passphrase"])
        self.stdout.write(f"{person} ({person.username}) can sign in now; no pause is left.")
        if passphrase:
            self.stdout.write(f"New passphrase   {passphrase}")
            self.stdout.write("It shows once. Devices that knew the earlier one are forgotten.")
        self.stdout.write(f"Door code        {door_code_of(person)}")
        self.stdout.write(
            "If sign-in is paused again meanwhile, the page asks for the door code: with it and "
            "the passphrase the door opens all the same."
        )

    def _open_door(self, person: User, *, renewed: bool) -> str:
        passphrase = new_passphrase() if renewed else ""
        hashed = make_password(passphrase) if renewed else person.password
        with transaction.atomic():
            if renewed:
                User.objects.filter(pk=person.pk).update(password=hashed)
                person.password = hashed
                text = f"New passphrase for {person}, made at the server"
                record(None, "issue-passphrase", person, text, school=person.school)
            forget_account(person.username)
            text = f"Sign-in of {person} opened at the server"
            record(None, "let-in", person, text, school=person.school)
        return passphrase
