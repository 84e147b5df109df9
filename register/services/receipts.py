"""A form counts once: a second press, a repeated answer or Back makes nothing twice."""

import hashlib
import json
import secrets
from collections.abc import Mapping

from django.db import IntegrityError, connection, transaction

from register.models import FormReceipt, User


class AlreadyTaken(Exception):
    """The same form with the same content was saved before; there is nothing left to do."""


def form_token() -> str:
    """Return a new one-time token for the hidden field of a page."""
    return secrets.token_urlsafe(16)


def form_take(*, token: str, content: Mapping[str, object], user: User) -> None:
    """Take a form; call it first inside `acting`, so that a refused save gives the token back.

    The receipt covers token and content: a page restored by Back and filled
    differently is another form. Of two simultaneous calls the second waits for
    the first. Raises AlreadyTaken.
    """
    try:
        with transaction.atomic():
            FormReceipt.objects.create(key=receipt_key(token, user, content), user=user)
    except IntegrityError:
        raise AlreadyTaken from None


def receipt_key(token: str, user: User, content: Mapping[str, object]) -> str:
    """Return the digest under which a form counts; its words cannot be read from it."""
    told = json.dumps([token, user.pk, content], sort_keys=True, default=str)
    return hashlib.sha256(told.encode()).hexdigest()


def receipt_of(key: str) -> FormReceipt | None:
    """Return the receipt of the same form, once whoever sends it just now has finished.

    Call it inside a transaction: until that ends, the same form waits here.
    """
    number = int.from_bytes(bytes.fromhex(key)[:8], signed=True)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_advisory_xact_lock(%s)", [number])
    return FormReceipt.objects.filter(key=key).first()


def newest_change() -> int:
    """Return the number of the newest change in the history; 0 before the first."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT coalesce(max(id), 0) FROM audit.change_log")
        return int(cursor.fetchone()[0])


def has_changed_since(number: int) -> bool:
    """Whether this transaction has changed a row of the register after change `number`."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT EXISTS (SELECT FROM audit.change_log WHERE id > %s AND transaction_id"
            " = pg_current_xact_id_if_assigned()::text::bigint)",
            [number],
        )
        return bool(cursor.fetchone()[0])


def receipt_give(*, key: str, user: User, went_to: str) -> None:
    """Note that a form was taken, and where its answer led."""
    FormReceipt.objects.create(key=key, user=user, went_to=went_to[:300])
