"""Urgency is set by a person: how soon somebody must act, with name and day."""

from datetime import date

from register.history import acting
from register.models import Referral, User
from register.services.editing import update_row


def urgency_set(
    *, referral: Referral, urgency: str, on: date, user: User, expected_version: int
) -> Referral:
    """Set how soon somebody must act; blank takes it back.

    Raises ValidationError for an unknown urgency and EditConflict when the
    referral was changed in the meantime.
    """
    referral.urgency = urgency
    referral.urgency_set_by = user if urgency else None
    referral.urgency_set_on = on if urgency else None
    with acting(user, "Urgency set"):
        update_row(
            referral,
            expected_version=expected_version,
            fields=["urgency", "urgency_set_by", "urgency_set_on"],
        )
    return referral
