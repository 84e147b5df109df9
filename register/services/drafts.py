"""Unfinished typing, kept on the server for its author until the form is saved."""

from collections.abc import Mapping

from register.history import acting
from register.models import Draft, User

# Larger than any form of the register; more is not typing.
LARGEST_CHARACTERS = 20_000


def draft_keep(*, user: User, form: str, data: Mapping[str, list[str]]) -> Draft:
    """Keep what is in the boxes. Raises ValueError when it is too much to be typed."""
    if sum(len(value) for values in data.values() for value in values) > LARGEST_CHARACTERS:
        raise ValueError("The form holds more than can be kept as a draft.")
    with acting(user, "Typing kept"):
        draft, _ = Draft.objects.update_or_create(
            user=user, form=form, defaults={"data": dict(data)}
        )
    return draft


def draft_drop(*, user: User, form: str) -> None:
    """Forget the draft of a form; nothing happens when there is none."""
    with acting(user, "Typing dropped"):
        Draft.objects.filter(user=user, form=form).delete()
