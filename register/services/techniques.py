"""Techniques of the department: by generic name, with their local approval."""

from collections.abc import Iterable
from typing import Any

from register.history import acting
from register.models import Site, Technique, User
from register.services.editing import update_row


def technique_create(
    *, site: Site, user: User, operators: Iterable[User] = (), **fields: Any
) -> Technique:
    """Add a technique; one that is new here needs committee and date. Raises ValidationError."""
    with acting(user, "Technique added"):
        technique = Technique(site=site, **fields)
        technique.full_clean()
        technique.save()
        technique.operators.set(operators)
    return technique


def technique_change(
    *,
    technique: Technique,
    expected_version: int,
    user: User,
    operators: Iterable[User] | None = None,
    **fields: Any,
) -> Technique:
    """Change a technique; None leaves its operators as they are.

    Raises EditConflict and ValidationError.
    """
    with acting(user, "Technique changed"):
        for name, value in fields.items():
            setattr(technique, name, value)
        update_row(technique, expected_version=expected_version, fields=list(fields))
        if operators is not None:
            technique.operators.set(operators)
    return technique
