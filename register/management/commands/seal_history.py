"""Extend the hash chain over the history and write an anchor outside the database."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connections, transaction
from django.utils import timezone

from register.history.anchors import Anchor, anchor_add
from register.history.chain import StillOpen, chain_end, extend, settled_end


class Command(BaseCommand):
    """seal_history [--wait SECONDS]"""

    help = (
        "Seal the history up to now and add an anchor to REGISTER_ANCHOR_FILE. Run it daily. "
        "Copy the printed line to paper or to another machine."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--wait", type=float, default=60, help="seconds to wait for writes in progress"
        )

    def handle(self, *, wait: float, **options: Any) -> None:
        owner, file = connections["owner"], Path(settings.ANCHOR_FILE)
        try:
            end = settled_end(owner, wait_s=wait)
        except StillOpen as problem:
            raise CommandError(str(problem)) from problem
        _, before, _ = chain_end(owner)
        with transaction.atomic(using="owner"):
            last, count, digest = extend(owner, upto=end)
        anchor = Anchor(timezone.now(), last, count, digest.hex())
        anchor_add(file, anchor)
        self.stdout.write(f"{count - before} rows sealed, {count} in all. Anchor in {file}:")
        self.stdout.write(str(anchor))
