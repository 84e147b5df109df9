"""`test`: run pytest in this environment. Every argument goes to pytest."""

import os
import sys
from typing import Any

from django.core.management.base import BaseCommand

# Whoever has nothing left takes over half of what the other still has to do.
PARALLEL = ["-n", "2", "--dist", "worksteal"]
# With these, the person wants one process to look at.
ALONE = ("-n", "--numprocesses", "-p", "--pdb", "-s", "--co", "--collect-only", "-x")


class Command(BaseCommand):
    help = "Run the tests with pytest; arguments are pytest's own."

    def run_from_argv(self, argv: list[str]) -> None:
        """Replace this process by pytest, so that its exit code and signals are the command's."""
        arguments = argv[2:]
        chosen = any(argument.startswith(ALONE) for argument in arguments)
        parallel = [] if chosen else PARALLEL
        environment = os.environ | {
            "DJANGO_SETTINGS_MODULE": "tests.settings",
            "REGISTER_MODE": "test",
        }
        command = [sys.executable, "-m", "pytest", *parallel, *arguments]
        os.execve(sys.executable, command, environment)

    def handle(self, *args: Any, **options: Any) -> None:
        """Reached through call_command only, which has no arguments to give."""
        self.run_from_argv(["manage.py", "test"])
