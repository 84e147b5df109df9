"""`add_administrator NAME`: the first account of a register, or a way back in."""

import sys
from argparse import ArgumentParser
from getpass import getpass
from typing import Any, Final

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from register.forms.catalogue import PersonForm
from register.models import Site, User
from register.services.people import department_create, user_create

JOB: Final = "add_administrator"


class Command(BaseCommand):
    help = (
        "Makes an administrator's account, on the first day with the department. Also for the "
        "day on which the only administrator has lost passphrase or second factor. The "
        "passphrase is asked for, or read from the standard input."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--given-name", required=True)
        parser.add_argument("--family-name", required=True)
        where = parser.add_mutually_exclusive_group()
        where.add_argument("--department", default="", help="which, where there are several")
        where.add_argument("--new-department", default="", help="the name of one to be made")

    def handle(self, **options: Any) -> None:
        if settings.REGISTER_MODE == "demo":
            raise CommandError(
                "This is the demonstration, which has its own accounts. Set REGISTER_MODE=live."
            )
        form = PersonForm(
            {
                "username": options["username"],
                "first_name": options["given_name"],
                "last_name": options["family_name"],
                "role": "administrator",
                "passphrase": _passphrase(),
            },
            person=None,
        )
        if not form.is_valid():
            raise CommandError(
                "\n".join(str(words) for found in form.errors.values() for words in found)
            )
        try:
            person = _made(form, options["department"], options["new_department"])
        except ValidationError as problem:
            raise CommandError("\n".join(problem.messages)) from problem
        self.stdout.write(
            f"{person} is an administrator of {person.site}. Sign in as {person.username}, set up "
            "the second factor, and make the other accounts under People."
        )


def _made(form: PersonForm, department: str, new_department: str) -> User:
    with transaction.atomic():
        site = (
            department_create(name=new_department, job=JOB)
            if new_department
            else _department(department)
        )
        return user_create(site=site, user=JOB, **form.values())


def _department(name: str) -> Site:
    """Return the department of that name, or the only one there is."""
    found = Site.objects.filter(name__iexact=name) if name else Site.objects.all()
    try:
        return found.get()
    except (Site.DoesNotExist, Site.MultipleObjectsReturned):
        names = ", ".join(Site.objects.order_by("name").values_list("name", flat=True))
    if not names:
        raise CommandError('There is no department yet. Add --new-department "its name".')
    raise CommandError(f"Say which department by --department. There are: {names}.")


def _passphrase() -> str:
    """Ask for a passphrase twice; without a terminal take one line of the standard input."""
    if not sys.stdin.isatty():
        return sys.stdin.readline().rstrip("\r\n")
    passphrase = getpass("Passphrase: ")
    if getpass("Once more: ") != passphrase:
        raise CommandError("The two differ. Nothing was made.")
    return passphrase
