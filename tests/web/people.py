"""Signed-in people of one site, for web tests."""

from dataclasses import dataclass

from django.test import Client

from register.models import Site, User
from tests.factories import make_site, make_user


@dataclass(frozen=True)
class People:
    """One site with one person of each role, each with a signed-in client."""

    site: Site
    users: dict[str, User]

    def client(self, role: str) -> Client:
        client = Client()
        client.force_login(
            self.users[role], backend="allauth.account.auth_backends.AuthenticationBackend"
        )
        return client


def make_people() -> People:
    """Make a site with people; call it inside `acting`."""
    site = make_site()
    roles = ("consultant", "nurse", "lead", "administrator")
    return People(site, {role: make_user(site, role) for role in roles})
