"""Refuse to serve from a database that could lose or hide what was saved.

`kill -9` never shows that `fsync` is off, because the kernel still holds the
pages; only a look at the settings does. So they are looked at before serving.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.core.checks import CheckMessage, Error, Warning
from django.db import DatabaseError, connections

from register.database.state import SetupError

# `reset_val` is what the server gives a new session of this role, whatever this one has set.
QUESTION = """
SELECT
    (SELECT setting FROM pg_settings WHERE name = 'fsync'),
    (SELECT setting FROM pg_settings WHERE name = 'full_page_writes'),
    (SELECT reset_val FROM pg_settings WHERE name = 'synchronous_commit'),
    (SELECT setting FROM pg_settings WHERE name = 'data_checksums'),
    (SELECT reset_val FROM pg_settings WHERE name = 'TimeZone'),
    (SELECT rolsuper OR rolcreaterole OR rolbypassrls FROM pg_roles WHERE rolname = current_user),
    (SELECT count(*) FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace
      WHERE n.nspname IN ('public', 'audit') AND pg_has_role(current_user, c.relowner, 'MEMBER')),
    current_setting('server_version_num')::int
"""
OLDEST = 150000


@dataclass(frozen=True)
class Server:
    """What the server says about itself to the application role."""

    fsync: str
    full_page_writes: str
    synchronous_commit: str
    data_checksums: str
    time_zone: str
    powerful: bool
    owned: int
    version: int


@dataclass(frozen=True)
class Danger:
    """One unsafe setting. `code` is stable; `advice` says what to do."""

    code: str
    found: str
    advice: str
    # A trial may run on a server that others use and that cannot be made anew.
    tolerable_in_demo: bool = False


# code, is it safe, what was found, what to do
RULES: tuple[tuple[str, Callable[[Server], bool], str, str], ...] = (
    (
        "fsync",
        lambda server: server.fsync == "on",
        "fsync is off: a power cut loses saved records.",
        "Set fsync = on in postgresql.conf and restart the server.",
    ),
    (
        "full_page_writes",
        lambda server: server.full_page_writes == "on",
        "full_page_writes is off: a power cut can tear pages.",
        "Set full_page_writes = on in postgresql.conf and reload the server.",
    ),
    (
        "synchronous_commit",
        lambda server: server.synchronous_commit in ("on", "remote_apply"),
        "synchronous_commit is neither on nor remote_apply: a crash loses saved records.",
        "Set synchronous_commit = on for the server, the database and the role.",
    ),
    (
        "data_checksums",
        lambda server: server.data_checksums == "on",
        "The server keeps no page checksums: damage on disk stays unseen.",
        "Stop the server, run pg_checksums --enable on its data folder, start it again.",
    ),
    (
        "time_zone",
        lambda server: server.time_zone in ("UTC", "Etc/UTC"),
        "The time zone of the application role is not UTC.",
        "Run: ALTER ROLE (the application role) SET timezone = 'UTC'.",
    ),
    (
        "powerful_role",
        lambda server: not server.powerful,
        "The application role is a superuser, may make roles, or bypasses row security.",
        "Give REGISTER_APP_URL a role with NOSUPERUSER NOCREATEROLE NOBYPASSRLS.",
    ),
    (
        "owning_role",
        lambda server: server.owned == 0,
        "The application role owns tables, or belongs to the role that does.",
        "Let the owner role own all tables: REASSIGN OWNED BY, then REVOKE the membership.",
    ),
    (
        "version",
        lambda server: server.version >= OLDEST,
        "The server is older than PostgreSQL 15.",
        "Use PostgreSQL 15 or newer.",
    ),
)
TOLERABLE_IN_DEMO = ("data_checksums",)


def look(connection: Any = None) -> Server:
    """Ask the server of a Django connection (the application's by default); one query."""
    with (connection or connections["default"]).cursor() as cursor:
        cursor.execute(QUESTION)
        return Server(*cursor.fetchone())


def dangers(server: Server) -> list[Danger]:
    """Return what is unsafe. Pure."""
    return [
        Danger(code, found, advice, code in TOLERABLE_IN_DEMO)
        for code, is_safe, found, advice in RULES
        if not is_safe(server)
    ]


def refuse_unsafe_database(connection: Any = None) -> list[Danger]:
    """Raise SetupError on an unsafe server; return what is tolerated in a demo or test."""
    found = dangers(look(connection))
    fatal = [d for d in found if not (settings.REGISTER_DEMO and d.tolerable_in_demo)]
    if fatal:
        lines = "\n".join(f"  {danger.found}\n    {danger.advice}" for danger in fatal)
        raise SetupError(f"The register does not start on this database:\n{lines}")
    return found


def check_database(
    app_configs: Any = None, databases: Sequence[str] | None = None, **kwargs: Any
) -> list[CheckMessage]:
    """The same as a system check: `manage.py check --database default`."""
    if not databases or "default" not in databases:
        return []
    try:
        found = dangers(look())
    except DatabaseError as error:
        return [Error(f"The database does not answer: {error}", id="register.database")]
    return [
        (Warning if settings.REGISTER_DEMO and danger.tolerable_in_demo else Error)(
            danger.found, hint=danger.advice, id=f"register.{danger.code}"
        )
        for danger in found
    ]
