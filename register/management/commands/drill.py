"""`drill NAME`: run one campaign on a database of its own and print its figures."""

import sys
import time
from importlib import import_module
from importlib.util import find_spec
from pkgutil import iter_modules
from types import ModuleType
from typing import Any, Final

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from register.database.scratch import scratch_database

ROOMS: Final = ("register.drills", "planning.drills", "reports.drills")
SEED: Final = 20270307


class Command(BaseCommand):
    help = "Run a campaign that tries to break the register, or list them. Exit code 1: it broke."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", default="", help="none: list them")
        parser.add_argument("--runs", type=int, default=None, help="default: the drill's own RUNS")
        parser.add_argument("--seed", type=int, default=SEED)

    def handle(self, *, name: str, runs: int | None, seed: int, **options: Any) -> None:
        found = drills()
        if not name:
            for title, place in found.items():
                words = (import_module(place).__doc__ or "").strip().split("\n")[0]
                self.stdout.write(f"{title:<14} {words}")
            return
        if name not in found:
            raise CommandError(f"There is no drill {name!r}. One of: {', '.join(found)}.")
        if not settings.REGISTER_DEMO:
            raise CommandError("This is a live site. Drills run where REGISTER_MODE is not live.")
        drill = import_module(found[name])
        if not self._run(drill, runs or int(getattr(drill, "RUNS", 1000)), seed):
            sys.exit(1)

    def _run(self, drill: ModuleType, runs: int, seed: int) -> bool:
        started = time.monotonic()
        self.stdout.write(f"{drill.__name__.rpartition('.')[2]}: {runs} runs, seed {seed}.")
        with scratch_database():
            is_well: bool = drill.run(runs=runs, seed=seed, say=self._say)
        verdict = "As it should be" if is_well else "NOT as it should be"
        self._say(f"{verdict}, {time.monotonic() - started:.0f} s.")
        return is_well

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()


def drills() -> dict[str, str]:
    """Return the module of every drill, by name, from the rooms that exist."""
    found = {}
    for room in ROOMS:
        spec = find_spec(room)
        for module in iter_modules(spec.submodule_search_locations or [] if spec else []):
            if not module.name.startswith("_"):
                found[module.name] = f"{room}.{module.name}"
    return dict(sorted(found.items()))
