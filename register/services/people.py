"""Accounts: made, changed and closed by the administrator; never deleted.

A new role or site, a closed account, a new passphrase, a second factor that was taken
away: each ends all sessions of the person at once (`User._get_session_auth_hash`).
"""

from typing import Any

from allauth.mfa.models import Authenticator
from axes.utils import reset as forget_wrong_tries
from django.core.exceptions import ValidationError
from django.utils.text import slugify

from register.history import acting
from register.models import Site, User
from register.selectors.people import MADE, RESET, SET_ANEW

EDITED = ("first_name", "last_name", "job_title", "role", "is_active")


class AccountChanged(Exception):
    """Somebody else changed the account since the page was opened; nothing was saved."""


def account_stamp(person: User) -> str:
    """Return what an account looked like when its page was opened; accounts have no version."""
    return "|".join(str(getattr(person, name)) for name in EDITED)


def department_create(*, name: str, job: str) -> Site:
    """Make a department, in the name of a job. Raises ValidationError, also for a taken name."""
    site = Site(name=name.strip(), code=slugify(name)[:24].strip("-") or "department")
    site.full_clean()
    with acting(job, "Department made"):
        site.save()
    return site


def user_create(*, site: Site, user: User | str, passphrase: str, **fields: Any) -> User:
    """Make an account. The person changes the passphrase after the first sign-in.

    `user` is who makes it, or the name of a job. Raises ValidationError, also for a
    user name that is taken, be it in capitals.
    """
    person = User(site=site, **fields)
    if User.objects.filter(username__iexact=person.username).exists():
        raise ValidationError({"username": "User name: it is taken. Choose another."})
    person.set_password(passphrase)
    person.full_clean()
    with acting(user, MADE):
        person.save()
    return person


def user_change(*, person: User, stamp: str, user: User, **fields: Any) -> User:
    """Change name, title, role, or open and close an account. It counts at the next request.

    Nobody closes their own account or gives up the administrator's role, so that
    the department never loses the last one. Raises AccountChanged, ValidationError.
    """
    with acting(user, "Account changed"):
        stands = User.objects.select_for_update(of=("self",)).get(pk=person.pk)
        if account_stamp(stands) != stamp:
            raise AccountChanged
        for name, value in fields.items():
            setattr(stands, name, value)
        if person.pk == user.pk and not (stands.is_active and stands.role == user.role):
            raise ValidationError(
                "This is your own account: another administrator has to close it or change "
                "its role."
            )
        stands.full_clean()
        stands.save(update_fields=list(fields))
    return stands


def user_passphrase(*, person: User, passphrase: str, user: User) -> User:
    """Set a new passphrase for somebody who forgot theirs; all their sessions end.

    A name that was closed after wrong tries is open again, at every place.
    """
    with acting(user, SET_ANEW):
        person.set_password(passphrase)
        person.save(update_fields=["password"])
        forget_wrong_tries(username=person.username.lower())
    return person


def user_end_sessions(*, person: User, user: User, reason: str = "Sessions ended") -> User:
    """End every session of a person; at their next request they sign in again."""
    with acting(user, reason):
        stands = User.objects.select_for_update(of=("self",)).get(pk=person.pk)
        stands.session_epoch += 1
        stands.save(update_fields=["session_epoch"])
    return stands


def second_factor_reset(*, person: User, reason: str, user: User) -> User:
    """Take a lost second factor away with its recovery codes, and end the person's sessions.

    The person is told at the next sign-in, by whom and why, and sets up a new one.
    Nobody does this for oneself: raises ValidationError.
    """
    if person.pk == user.pk:
        raise ValidationError(
            "This is your own account: another administrator has to take its second factor away."
        )
    with acting(user, RESET + reason):
        for factor in Authenticator.objects.filter(user=person):
            factor.delete()
        return user_end_sessions(person=person, user=user, reason=RESET + reason)


def first_steps_hide(*, user: User, hidden: bool) -> None:
    """Hide the first steps on a person's start page, or show them again."""
    with acting(user, "First steps hidden" if hidden else "First steps shown"):
        user.first_steps_hidden = hidden
        user.save(update_fields=["first_steps_hidden"])
