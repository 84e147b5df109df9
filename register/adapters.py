"""Sign-in as this register wants it: people made by the administrator, codes kept secret."""

import base64
import hashlib
import time
from typing import Any, ClassVar

from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.authentication import get_authentication_records
from allauth.core import context
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from cryptography.fernet import Fernet, MultiFernet
from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse

from register.selectors.people import has_second_factor

RECENTLY = 5 * 60  # seconds; as long as the library lets a confirmation hold


class ClosedAccountAdapter(DefaultAccountAdapter):
    """Accounts are made by the administrator; nobody signs up."""

    error_messages: ClassVar[dict[str, Any]] = DefaultAccountAdapter.error_messages | {
        "username_password_mismatch": "User name or passphrase is not right. Type both again.",
        "incorrect_password": "This is not your passphrase. Type it again.",
        "enter_current_password": "This is not your passphrase of today. Type it again.",
        "too_many_login_attempts": "Too many tries. Wait five minutes, then try again.",
        "rate_limited": "Too many tries. Wait five minutes, then try again.",
    }

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        """Lead back to where the page was opened, with the message that it is saved."""
        return reverse("mfa_index")

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def is_reauthentication_required(self, *, app: str) -> bool:
        """Ask nobody again who has just proved all that he or she can.

        So the first sign-in leads from the passphrase to the device and on to the
        recovery codes without the same question in between.
        """
        ways = _proved_lately(context.request)
        wanted = {"mfa"} if has_second_factor(context.request.user) else set()
        if ways - {"mfa"} and wanted <= ways:
            return False
        return bool(super().is_reauthentication_required(app=app))

    def pre_authenticate(self, request: HttpRequest, **credentials: Any) -> None:
        """Leave the counting of wrong passphrases to the counter by name and address.

        The library's own would lock a colleague out whose name somebody else tries.
        """


class SecondFactorAdapter(DefaultMFAAdapter):
    """Second factors, sealed in the database and given up only with a code of their own."""

    error_messages: ClassVar[dict[str, Any]] = DefaultMFAAdapter.error_messages | {
        "incorrect_code": "This code is not right, or it was used before. Wait for the next one "
        "and type its six digits, or type a recovery code that you have not used.",
        "cannot_delete_authenticator": "Type a code of this device first, then it can be removed.",
    }

    def encrypt(self, text: str) -> str:
        """Seal a secret, so that a stolen backup alone holds no second factor."""
        return _seal().encrypt(text.encode()).decode()

    def decrypt(self, encrypted_text: str) -> str:
        return _seal().decrypt(encrypted_text.encode()).decode()

    def can_delete_authenticator(self, authenticator: Authenticator) -> bool:
        """Knowing the passphrase is not enough."""
        return gave_a_code_lately(context.request)


def gave_a_code_lately(request: HttpRequest) -> bool:
    """Whether this session gave a code of the second factor in the last minutes."""
    return "mfa" in _proved_lately(request)


def _proved_lately(request: HttpRequest) -> set[str]:
    """Return the ways in which this session proved in the last minutes who it is."""
    user: Any = request.user
    lately = time.time() - RECENTLY
    records = get_authentication_records(request, user)
    return {one["method"] for one in records if one["at"] > lately}


def _seal() -> MultiFernet:
    """Return the seal made from the secret key; older keys still open what they closed."""
    keys = [str(key) for key in (settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS)]
    digests = [hashlib.sha256(f"second factor {key}".encode()).digest() for key in keys]
    return MultiFernet([Fernet(base64.urlsafe_b64encode(digest)) for digest in digests])
