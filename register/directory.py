"""Sign-in through the hospital's directory: existing people only, matched anew each time.

Loaded only where single sign-on is switched on (`register.config.single_sign_on`). The
provider's signed token names the account; no account is made and no link is kept.
"""

from typing import Any, cast

from allauth.core.exceptions import ImmediateHttpResponse
from allauth.socialaccount.adapter import DefaultSocialAccountAdapter
from django.conf import settings
from django.http import HttpRequest
from django.shortcuts import render

from register.config.single_sign_on import SingleSignOn
from register.models import User

NOT_KNOWN = (
    "Your hospital account is right, but no account of this register has its name. "
    "Ask the administrator of your department to make one, or to correct the user name."
)
NOT_VERIFIED = (
    "Your hospital's sign-in has not confirmed that this address is yours. Ask your hospital's "
    "help desk, or sign in with the passphrase of this register."
)
FAILED = (
    "The sign-in of your hospital gave no answer that can be trusted. Try again, or sign in with "
    "the passphrase of this register."
)


class DirectoryAdapter(DefaultSocialAccountAdapter):
    """The sign-in library's way to the provider, closed to everybody who has no account."""

    def is_open_for_signup(self, request: HttpRequest, sociallogin: Any) -> bool:
        return False

    def populate_user(self, request: HttpRequest, sociallogin: Any, data: dict[str, Any]) -> Any:
        """Fill nobody in from the token: no account is made of it."""
        return sociallogin.user

    def pre_social_login(self, request: HttpRequest, sociallogin: Any) -> None:
        """Put the person whom the token names in place of a new one, or refuse in words."""
        claims = sociallogin.account.extra_data.get("id_token") or {}
        claim = cast(SingleSignOn, settings.SINGLE_SIGN_ON).claim
        if sociallogin.state.get("process") != "login":
            refuse(request, FAILED)
        if not is_confirmed(claims, claim):
            refuse(request, NOT_VERIFIED)
        person = person_named(claims.get(claim))
        if person is None:
            refuse(request, NOT_KNOWN)
        sociallogin.user = person

    def on_authentication_error(self, request: HttpRequest, *args: Any, **kwargs: Any) -> None:
        refuse(request, FAILED)


def is_confirmed(claims: dict[str, Any], claim: str) -> bool:
    """Whether the provider answers for a claim; an e-mail address may be the person's own word."""
    return claim != "email" or claims.get("email_verified") is True


def person_named(name: object) -> User | None:
    """Return the one account of that user name, capitals apart; None when none, or several."""
    if not isinstance(name, str) or not name.strip():
        return None
    found = list(User.objects.filter(username__iexact=name.strip())[:2])
    return found[0] if len(found) == 1 else None


def refuse(request: HttpRequest, words: str) -> None:
    """Answer with a page that says why nobody was signed in."""
    page = render(request, "socialaccount/refused.html", {"words": words}, status=403)
    raise ImmediateHttpResponse(page)
