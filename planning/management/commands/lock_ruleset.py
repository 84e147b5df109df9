"""Lock a new rule set: its digest and its answers are written once and never again."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from planning.rules.lock import LOCK_FILE, differences, read_lock, write_lock
from planning.rules.rulesets import RULESETS, ruleset


class Command(BaseCommand):
    """lock_ruleset [ID]; without ID it says how the published sets differ from their locks."""

    help = "Lock a new rule set, or check the locked ones."
    requires_system_checks: list[str] = []  # noqa: RUF012 -- Django's own attribute

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("ruleset", nargs="?", help="id of the new set")

    def handle(self, *, ruleset: str | None, **options: Any) -> None:
        if ruleset is None:
            self._check()
        else:
            self._lock(ruleset)

    def _lock(self, id: str) -> None:
        try:
            write_lock(ruleset(id))
        except (LookupError, ValueError) as problem:
            raise CommandError(str(problem)) from None
        self.stdout.write(f"{id} is locked in {LOCK_FILE.name}.")

    def _check(self) -> None:
        locks = read_lock()
        problems = [f"{known.id} is not locked." for known in RULESETS if known.id not in locks]
        for known in RULESETS:
            if known.id in locks:
                problems += differences(known, locks[known.id])
        if problems:
            raise CommandError("\n".join(problems))
        self.stdout.write(f"{len(RULESETS)} rule sets are as published.")
