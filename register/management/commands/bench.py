"""`bench NAME`: measure how long something takes on this machine, and print the figures."""

from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser

from register import benches


class Command(BaseCommand):
    help = "Measure the speed of one part of the register, or list what can be measured."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", nargs="?", default="", help="none: list them")

    def handle(self, *, name: str, **options: Any) -> None:
        found = [one.name for one in iter_modules(benches.__path__) if one.name[0] != "_"]
        if not name:
            for title in found:
                words = (_module(title).__doc__ or "").strip().split("\n")[0]
                self.stdout.write(f"{title:<14} {words}")
            return
        if name not in found:
            raise CommandError(f"There is no measurement {name!r}. One of: {', '.join(found)}.")
        if not settings.REGISTER_DEMO:
            raise CommandError("This is a live site. Measure where REGISTER_MODE is not live.")
        _module(name).run(say=self._say)

    def _say(self, words: str) -> None:
        self.stdout.write(words)
        self.stdout.flush()


def _module(name: str) -> Any:
    return import_module(f"register.benches.{name}")
