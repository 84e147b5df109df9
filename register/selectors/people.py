"""What is known of an account beside its row: its second factor, and who took one away."""

from typing import Final

from allauth.mfa.models import Authenticator
from django.utils.timezone import localtime

from register.domain.days import day_words
from register.history.reading import Change, changes_of_row
from register.models import User

# How the history's reason of a reset begins; what follows is the administrator's own.
RESET: Final = "Second factor taken away: "
# The history's reasons when somebody else chose the passphrase, and when the person did.
MADE: Final = "Account made"
SET_ANEW: Final = "Passphrase set anew"
OWN_CHOICE: Final = "Sign-in page"


def has_second_factor(person: User) -> bool:
    """Whether the person set up a device that shows codes."""
    return Authenticator.objects.filter(user=person, type=Authenticator.Type.TOTP).exists()


def passphrase_words(person: User) -> str:
    """Say who else knows the passphrase; '' once the person has chosen one."""
    reasons = (MADE, SET_ANEW, OWN_CHOICE)
    found = [one for one in changes_of_row(person) if one.reason in reasons]
    if not found or found[-1].reason == OWN_CHOICE or found[-1].actor_id in (None, person.pk):
        return ""
    who = User.objects.filter(pk=found[-1].actor_id).first() or found[-1].actor
    return (
        f"Your passphrase was chosen by {who}. Choose one that only you know: open My account by "
        "your name at the top, then “Choose a new passphrase”."
    )


def last_reset(person: User) -> Change | None:
    """Return the newest time an administrator took the second factor away; None if never."""
    found = [one for one in changes_of_row(person) if one.reason.startswith(RESET)]
    return found[-1] if found else None


def reset_words(person: User) -> str:
    """Say who took the second factor away, when and why; '' if nobody did."""
    reset = last_reset(person)
    if reset is None:
        return ""
    who = User.objects.filter(pk=reset.actor_id or 0).first() or reset.actor
    reason = reset.reason.removeprefix(RESET)
    at = localtime(reset.at)
    return (
        f"Your second factor was taken away by {who} on {day_words(at)} at {at:%H:%M}, "
        f"because: {reason.rstrip('.')}. "
        "Set it up anew. If you did not ask for this, tell the administrator now."
    )


def person_words(username: str) -> str:
    """Return the name of a person; a job keeps its own."""
    person = User.objects.filter(username=username).first() if username else None
    return str(person) if person else username
