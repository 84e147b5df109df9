"""Prove this installation against published values: manage.py verify [FILE...]."""

import json
import sys
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from reports.verification import Outcome, PackError, load_calculations, read_pack, run

PACKS = Path(__file__).resolve().parents[3] / "fixtures" / "check_values"


class Command(BaseCommand):
    """Run check values and say what differs; exit status 1 when anything failed."""

    help = (
        "Run files of check values against the calculations of this installation. "
        "Without a file: all packs that come with it."
    )
    requires_system_checks: list[str] = []  # noqa: RUF012 - declared so by the base class

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Take any number of files."""
        parser.add_argument("files", nargs="*", type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        """Run every file, also after one that cannot be read, and end with the count."""
        load_calculations()
        files = options["files"] or sorted(PACKS.glob("*.json"))
        if not files:
            self.stdout.write(f"No file of check values in {PACKS}; name one.")
        passed = failed = 0
        for path in files:
            try:
                outcomes = run(read_pack(path))
            except PackError as problem:
                self.stdout.write(f"FAILED {problem}")
                failed += 1
                continue
            failures = [outcome for outcome in outcomes if not outcome.passed]
            for outcome in failures:
                self.stdout.write(describe(outcome))
            passed += len(outcomes) - len(failures)
            failed += len(failures)
        self.stdout.write(f"{passed} passed, {failed} failed")
        if failed or not passed:
            sys.exit(1)


def describe(outcome: Outcome) -> str:
    """Return a failure as text: where, what differs, inputs, expected, got and the source."""
    case = outcome.case
    got = "no answer" if outcome.got is None else json.dumps(outcome.got, ensure_ascii=False)
    return "\n".join(
        [
            f"FAILED {case.pack}: {case.id} ({case.calculation})",
            *(f"  {problem}" for problem in outcome.problems),
            f"  inputs    {json.dumps(case.inputs, ensure_ascii=False)}",
            f"  expected  {json.dumps(case.expected, ensure_ascii=False)}",
            f"  got       {got}",
            f"  source    {case.source} [{case.status}]",
        ]
    )
