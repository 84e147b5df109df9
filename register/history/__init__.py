"""Who acts, and why: the context that the history triggers read.

Every write runs inside `acting(user, reason)`. The database refuses a write of
the application role outside it, so that no history row lacks a name.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from django.db import DEFAULT_DB_ALIAS, connections, transaction

__all__ = ["act_and_reason", "acting", "because"]

_BECAUSE: Final = ", because "


@contextmanager
def acting(who: Any, reason: str = "", *, using: str = DEFAULT_DB_ALIAS) -> Iterator[None]:
    """Run the block in one transaction, written in the name of `who`.

    `who` is a saved user, or the name of a job such as "nightly import". `reason`
    is free text, stored beside each change. Blocks nest; on leaving, the former
    actor and reason stand again (after an exception the savepoint brings them back).
    Raises ValueError when there is nobody to name.
    """
    name, number = actor_of(who)
    connection = connections[using]
    nested = connection.in_atomic_block
    with transaction.atomic(using=using):
        former = _read(connection) if nested else None
        _write(connection, (name, number, reason))
        yield
        if former is not None and not connection.needs_rollback:
            _write(connection, former)


def because(act: str, why: str) -> str:
    """Return the reason to store for an act, with what the person gave as its reason, if any.

    The history splits it again: `act_and_reason`.
    """
    return f"{act}{_BECAUSE}{why.strip()}" if why.strip() else act


def act_and_reason(stored: str) -> tuple[str, str]:
    """Return what was done and the reason that a person gave; blank where none was given."""
    act, _, why = stored.partition(_BECAUSE)
    return act, why


def actor_of(who: Any) -> tuple[str, str]:
    """Return the name to store and the user's number ('' for a job)."""
    if isinstance(who, str):
        name, number = who.strip(), ""
    else:
        name, number = (who.get_username(), str(who.pk or "")) if who else ("", "")
        if not number:
            name = ""
    if not name:
        raise ValueError("Name a saved user or a job: every write needs an actor.")
    return name, number


def _read(connection: Any) -> tuple[str, str, str]:
    """Return actor, user number and reason in force; '' where none is."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT coalesce(current_setting('app.actor', true), ''),"
            " coalesce(current_setting('app.actor_id', true), ''),"
            " coalesce(current_setting('app.reason', true), '')"
        )
        return tuple(cursor.fetchone())


def _write(connection: Any, values: tuple[str, str, str]) -> None:
    """Set the three for this transaction only; a pooled connection forgets them."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT set_config('app.actor', %s, true),"
            " set_config('app.actor_id', %s, true), set_config('app.reason', %s, true)",
            values,
        )
