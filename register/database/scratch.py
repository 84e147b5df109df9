"""Databases to be thrown away, copied from a migrated template: for tests and drills.

Running all migrations takes seconds, copying a database a fraction of one. The
template is made anew whenever a migration, a grant or the history's SQL changed.
"""

import fcntl
import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib.metadata import distributions
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.db import OperationalError, connections

from register.database.state import state_folder

SOURCES = (
    "*/migrations/*.py",
    "register/history/operations.py",
    "register/history/sql.py",
    "register/database/grants.py",
)


@contextmanager
def scratch_database() -> Iterator[str]:
    """Point both roles, in every thread, at an empty migrated database for a while.

    The register's own database is not touched. The copy is dropped afterwards; a
    killed process leaves it to the next one, which sees that its maker is gone.
    """
    owner, application = connections["owner"], connections["default"]
    usual = owner.settings_dict["NAME"]
    template, name = migrated_template(), f"test_register_{os.getpid()}_scratch"
    with owner._nodb_cursor() as cursor:
        cursor.execute(f'CREATE DATABASE "{name}" TEMPLATE "{template}"')
    connections.close_all()
    owner.settings_dict["NAME"] = application.settings_dict["NAME"] = name
    try:
        call_command(
            "migrate", database="owner", verbosity=0
        )  # gives the rights, which no copy has
        yield name
    finally:
        connections.close_all()
        owner.settings_dict["NAME"] = application.settings_dict["NAME"] = usual
        with owner._nodb_cursor() as cursor, suppress(OperationalError):
            # A thread that still holds a connection leaves it to the next one to drop.
            cursor.execute(f'DROP DATABASE IF EXISTS "{name}"')


def migrated_template() -> str:
    """Return the name of the template database; migrate it when it is missing."""
    owner = connections["owner"]
    plain = f"{owner.settings_dict['NAME']}_template_{digest()}"
    name = plain.replace("_template_", "_sso_template_") if settings.SINGLE_SIGN_ON else plain
    with only_one(), owner._nodb_cursor() as cursor:
        drop_orphans(cursor)
        cursor.execute("SELECT datname FROM pg_database WHERE datname LIKE %s", [f"{name[:-16]}%"])
        found = {row[0] for row in cursor.fetchall()}
        if name not in found:
            for old in found:
                with suppress(OperationalError):  # somebody copies it just now
                    cursor.execute(f'DROP DATABASE IF EXISTS "{old}"')
            # Single sign-on has all of the plain one, and some tables more.
            start = template_if_there(cursor, plain)
            cursor.execute(f'CREATE DATABASE "{name}_new" {start}')
            migrate(f"{name}_new")
            cursor.execute(f'ALTER DATABASE "{name}_new" RENAME TO "{name}"')
    return name


def template_if_there(cursor: Any, name: str) -> str:
    """Return the words that copy a database; none when it does not exist."""
    cursor.execute("SELECT 1 FROM pg_database WHERE datname = %s", [name])
    return f'TEMPLATE "{name}"' if cursor.fetchone() else ""


def drop_orphans(cursor: Any) -> None:
    """Remove test databases whose process is gone (a killed run cannot tidy up)."""
    cursor.execute("SELECT datname FROM pg_database WHERE datname LIKE 'test\\_register\\_%%'")
    for (name,) in cursor.fetchall():
        number = name.removeprefix("test_register_").split("_")[0]
        if number.isdigit() and not Path(f"/proc/{number}").exists():
            with suppress(OperationalError):
                cursor.execute(f'DROP DATABASE IF EXISTS "{name}"')


def digest() -> str:
    """Return 16 characters that stand for all that shapes an empty database."""
    sha = hashlib.sha256()
    for pattern in SOURCES:
        for file in sorted(Path(settings.BASE_DIR).glob(pattern)):
            sha.update(file.read_bytes())
    packages = sorted(f"{d.name} {d.version}" for d in distributions())
    sha.update("\n".join(packages).encode())
    return sha.hexdigest()[:16]


def migrate(name: str) -> None:
    """Run the migrations in a database, as the owner."""
    owner = connections["owner"]
    usual = owner.settings_dict["NAME"]
    owner.close()
    owner.settings_dict["NAME"] = name
    try:
        call_command("migrate", database="owner", verbosity=0, interactive=False)
    finally:
        owner.close()
        owner.settings_dict["NAME"] = usual


@contextmanager
def only_one() -> Iterator[None]:
    """Let one test process at a time make the template."""
    with (Path(state_folder()) / "template.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield
