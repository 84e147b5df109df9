"""Optional sign-in through the hospital's own directory (OpenID Connect); off unless set.

REGISTER_OIDC_ISSUER             address of the provider, with https
REGISTER_OIDC_CLIENT_ID          as the provider gave it
REGISTER_OIDC_SECRET             as the provider gave it
REGISTER_OIDC_NAME               words on the button, for example "Hospital sign-in"
REGISTER_OIDC_CLAIM              what names the account (default preferred_username)
REGISTER_OIDC_HAS_SECOND_FACTOR  yes, when the provider itself asks everybody for one
"""

from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import urlsplit

from django.core.exceptions import ImproperlyConfigured

from register.config import environment

APPS: Final = ["allauth.socialaccount", "allauth.socialaccount.providers.openid_connect"]
PROVIDER: Final = "hospital"  # stands in the address that the provider sends people back to


@dataclass(frozen=True, slots=True)
class SingleSignOn:
    """One provider. `claim` is the part of its signed token that equals our user name."""

    issuer: str
    client_id: str
    secret: str
    name: str
    claim: str
    has_second_factor: bool

    @property
    def origin(self) -> str:
        """Scheme and host of the provider: the only foreign place that a form may lead to."""
        parts = urlsplit(self.issuer)
        return f"{parts.scheme}://{parts.netloc}"

    def as_allauth(self) -> dict[str, Any]:
        """Return the provider as the library wants it: code flow with PKCE, signed token only."""
        app = {
            "provider_id": PROVIDER,
            "name": self.name,
            "client_id": self.client_id,
            "secret": self.secret,
            "settings": {
                "server_url": self.issuer,
                "fetch_userinfo": False,
                "oauth_pkce_enabled": True,
            },
        }
        return {"openid_connect": {"APPS": [app]}}


def single_sign_on() -> SingleSignOn | None:
    """Read the provider from the environment; None when there is none.

    Raises ImproperlyConfigured when it is set by half, or not reached over TLS.
    """
    issuer = environment.text("REGISTER_OIDC_ISSUER", "")
    if not issuer:
        return None
    if not issuer.startswith("https://"):
        raise ImproperlyConfigured("REGISTER_OIDC_ISSUER has to begin with https://.")
    return SingleSignOn(
        issuer=issuer.rstrip("/"),
        client_id=environment.text("REGISTER_OIDC_CLIENT_ID"),
        secret=environment.text("REGISTER_OIDC_SECRET"),
        name=environment.text("REGISTER_OIDC_NAME", "Hospital sign-in"),
        claim=environment.text("REGISTER_OIDC_CLAIM", "preferred_username"),
        has_second_factor=environment.flag("REGISTER_OIDC_HAS_SECOND_FACTOR", default=False),
    )
