"""What happens to a session when somebody signs in or sets a second factor up."""

import time
from typing import Any, Final

from allauth.account.internal.flows.login import record_authentication
from allauth.mfa.models import Authenticator
from django.contrib import messages
from django.http import HttpRequest

from register.models import User
from register.selectors.people import has_second_factor, passphrase_words, reset_words

BEGAN: Final = "session_began"  # session key: when the person signed in, seconds since 1970


def began(*, request: HttpRequest, **kwargs: Any) -> None:
    """Note when a session began; a receiver of `user_logged_in`."""
    request.session[BEGAN] = time.time()


def told_of_reset(*, request: HttpRequest, user: User, **kwargs: Any) -> None:
    """Tell somebody without a second factor who took it away, and why; at each sign-in."""
    if not has_second_factor(user) and (words := reset_words(user)):
        messages.warning(request, words, fail_silently=True)


def told_of_passphrase(*, request: HttpRequest, user: User, **kwargs: Any) -> None:
    """Ask somebody whose passphrase another person chose for one of their own."""
    if words := passphrase_words(user):
        messages.warning(request, words, fail_silently=True)


def code_given(
    *, request: HttpRequest, user: User, authenticator: Authenticator, **kwargs: Any
) -> None:
    """Let a session that set the second factor up count as one that proved it.

    Setting it up asked for a code of the new device. Other sessions of the person
    have proved nothing and are asked for a code of their own.
    """
    if authenticator.type == Authenticator.Type.TOTP:
        record_authentication(request, user, method="mfa", type="totp", id=authenticator.pk)
