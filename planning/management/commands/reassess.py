"""Assess every waiting fracture that has no assessment that still stands."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.timezone import localdate

from planning.errors import PlanningError
from planning.rules.answer import counted_words
from planning.selectors.outdated import fractures_to_assess
from planning.services.assessments import assessment_record
from register.models import User
from register.permissions import may


class Command(BaseCommand):
    """reassess --as USERNAME [--dry-run]"""

    help = "Assess the waiting fractures of a person's department that need it, in that name."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--as", dest="username", required=True, help="who assesses")
        parser.add_argument("--dry-run", action="store_true", help="count only")

    def handle(self, *, username: str, dry_run: bool, **options: Any) -> None:
        user = User.objects.select_related("site").filter(username=username).first()
        if user is None or user.site is None or not may(user, "assess"):
            raise CommandError(
                f"{username!r} may not assess. Name a consultant or nurse of the department "
                "with --as."
            )
        today = localdate()
        todo = list(fractures_to_assess(user.site, on=today))
        self.stdout.write(f"{counted_words(len(todo), 'waiting fracture')} to assess.".capitalize())
        if dry_run:
            return
        refused = 0
        for done, fracture in enumerate(todo, start=1):
            try:
                assessment_record(fracture=fracture, made_by=user, as_of=today)
            except PlanningError as problem:
                refused += 1
                self.stderr.write(f"Fracture {fracture.pk} refused: {problem}")
            if done % 100 == 0 or done == len(todo):
                self.stdout.write(f"{done} of {len(todo)} ({done / len(todo):.0%})")
        if refused:  # a non-zero exit, so that a scheduled run is noticed
            raise CommandError(f"{refused} of {len(todo)} were refused; the others are saved.")
