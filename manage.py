#!/usr/bin/env python3
"""Run a command of the register. On a new machine it first makes the environment."""

import os
import sys

from register.config import bootstrap

WITHOUT_DATABASE = ("help", "version", "test")


def main() -> None:
    """Enter the environment, make the database ready, run the command."""
    bootstrap.enter(sys.argv)

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "register.config.settings")
    from django.core.management import execute_from_command_line

    from register.database.prepare import database_ready
    from register.database.state import SetupError

    try:
        if sys.argv[1:] and sys.argv[1].lstrip("-") not in WITHOUT_DATABASE:
            database_ready()
        execute_from_command_line(sys.argv)
    except SetupError as problem:
        sys.exit(f"\n{problem}")


if __name__ == "__main__":
    main()
