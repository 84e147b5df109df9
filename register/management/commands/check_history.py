"""Recompute the hash chain over the history, and compare it with the anchors."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any, Final

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connections, transaction

from register.history.anchors import AnchorsUnreadable, anchors_of
from register.history.chain import Check, check

SHOWN: Final = 20


class Command(BaseCommand):
    """check_history [--anchors FILE]"""

    help = "Say whether the sealed history is as it was. Ends with 1 when it is not."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--anchors", type=Path, help="another copy of the anchors, kept elsewhere"
        )

    def handle(self, *, anchors: Path | None, **options: Any) -> None:
        file = anchors or Path(settings.ANCHOR_FILE)
        try:
            known = anchors_of(file)
        except AnchorsUnreadable as problem:
            raise CommandError(
                f"{problem} Run seal_history first, or name a copy with --anchors."
            ) from problem
        with transaction.atomic(using="owner"):
            result = check(connections["owner"], known)
        self._tell(result)
        if not result.is_whole:
            raise CommandError("The history is not as it was sealed.")
        self.stdout.write("The sealed history is as it was.")

    def _tell(self, result: Check) -> None:
        self.stdout.write(
            f"{result.sealed} rows sealed up to number {result.last_id}, {result.not_sealed} "
            f"since then not sealed yet. Anchors: {result.anchors}."
        )
        for finding in result.findings[:SHOWN]:
            self.stdout.write(f"Row {finding.number}: {finding.words}.")
        if len(result.findings) > SHOWN:
            self.stdout.write(f"… and {len(result.findings) - SHOWN} more rows.")
        for anchor, words in result.unfit[:SHOWN]:
            self.stdout.write(f"Anchor of {anchor.at:%d %b %Y %H:%M %Z}: {words}.")
