"""Confirming once for each study how its levels were counted."""

from typing import Any

from django.core.exceptions import ValidationError
from django.utils import timezone

from register.models import Study, User
from register.selectors.numbering import differing_from
from register.services.records import record_change


def numbering_confirm(*, study: Study, expected_version: int, user: User, **fields: Any) -> Study:
    """Record how the levels were counted, and that a person stands for it.

    Raises ValidationError when it is not said from where was counted, or when another
    study numbers differently and nothing says how the two agree; EditConflict.
    """
    if not fields.get("counted_from"):
        raise ValidationError({"counted_from": "Say from where the levels were counted."})
    for name, value in fields.items():
        setattr(study, name, value)
    if differing_from(study) and not study.numbering_note.strip():
        raise ValidationError(
            {"numbering_note": "Another study numbers differently. Say how the two agree."}
        )
    stands = {"numbering_confirmed_by": user, "numbering_confirmed_at": timezone.now()}
    return record_change(
        record=study,
        expected_version=expected_version,
        user=user,
        reason="Numbering of the levels confirmed",
        fields=fields | stands,
    )
