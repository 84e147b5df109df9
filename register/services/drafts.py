"""Unfinished typing, kept on the server for its author until the form is saved."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Final

from django.conf import settings
from django.utils import timezone

from register.history import acting
from register.models import Draft, User

# Larger than any form of the register; more is not typing.
LARGEST_CHARACTERS: Final = 20_000


class TooMuchTyped(ValueError):
    """What came is more than can be typed into a form; nothing was kept."""


def draft_keep(
    *,
    user: User,
    form: str,
    data: Mapping[str, list[str]],
    title: str = "",
    address: str = "",
) -> Draft:
    """Keep what is in the boxes, over what was kept of the same form. Raises TooMuchTyped.

    `form` is the address that the form posts to, `address` the page it stands on,
    `title` what that page is called.
    """
    if sum(len(value) for values in data.values() for value in values) > LARGEST_CHARACTERS:
        raise TooMuchTyped("The form holds more than can be kept as a draft.")
    kept = {"data": dict(data), "title": title[:160], "address": address[:200]}
    with acting(user, "Typing kept"):
        draft, _ = Draft.objects.update_or_create(user=user, form=form, defaults=kept)
    return draft


def draft_drop(*, user: User, form: str) -> None:
    """Forget the draft of a form; nothing happens when there is none."""
    with acting(user, "Typing dropped"):
        Draft.objects.filter(user=user, form=form).delete()


def drafts_clear() -> int:
    """Forget drafts that nobody touched for `DRAFT_DAYS`; return how many there were."""
    before = timezone.now() - timedelta(days=settings.DRAFT_DAYS)
    with acting("clear drafts", "Untouched for long"):
        number, _ = Draft.objects.filter(saved_at__lt=before).delete()
    return number
