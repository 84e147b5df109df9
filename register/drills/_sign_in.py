"""One try at the sign-in page, as a browser without a session would send it."""

import re
from dataclasses import dataclass
from time import perf_counter
from typing import Final

from django.test import Client
from django.urls import reverse

from register.history import acting
from register.models import Site, User

PASSPHRASE: Final = "grey heron on the weir"
TOKEN: Final = re.compile(rb'value="[^"]*"|X-CSRFToken": "[^"]*"')


@dataclass(frozen=True, slots=True)
class Answer:
    """What came back. `body` is without one-time tokens and what was typed; `seconds` to answer."""

    status: int
    body: bytes
    seconds: float

    @property
    def is_in(self) -> bool:
        """Whether the try opened the register."""
        return self.status == 302


def sign_in(name: str, passphrase: str, address: str, **headers: str) -> Answer:
    """Send one try from an address of the network."""
    client = Client(REMOTE_ADDR=address, SERVER_NAME="127.0.0.1")
    typed = {"login": name, "password": passphrase}
    started = perf_counter()
    answer = client.post(reverse("account_login"), typed, headers=headers)
    seconds = perf_counter() - started
    return Answer(answer.status_code, TOKEN.sub(b"", answer.content), seconds)


def address_of(number: int) -> str:
    """Return the number-th address of a private network."""
    return f"10.{number // 65536 % 256}.{number // 256 % 256}.{number % 256}"


def make_person(name: str, site: Site, *, is_active: bool = True) -> User:
    """Make a nurse with the passphrase above."""
    person = User(username=name, site=site, role="nurse", is_active=is_active)
    person.set_password(PASSPHRASE)
    with acting("drill"):
        person.save()
    return person


def make_site() -> Site:
    """Return the site of the drill."""
    with acting("drill"):
        return Site.objects.create(name="Harrowmere drill", code="drill")
