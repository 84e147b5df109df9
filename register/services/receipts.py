"""A form counts once: a second press, a repeated answer or Back makes nothing twice."""

import hashlib
import json
import secrets
from collections.abc import Mapping

from django.db import IntegrityError, transaction

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
    told = json.dumps([token, user.pk, content], sort_keys=True, default=str)
    key = hashlib.sha256(told.encode()).hexdigest()
    try:
        with transaction.atomic():
            FormReceipt.objects.create(key=key, user=user)
    except IntegrityError:
        raise AlreadyTaken from None
