"""Every page and form that people of each role can reach, found by following links."""

import logging
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from threading import Barrier
from typing import Any, Final

from django.conf import settings
from django.core.management import call_command, get_commands
from django.db import connection, connections, transaction
from django.test import Client
from django.urls import ResolverMatch

from register.drills._forms import Form, read_page
from register.entry.whose import match_of
from register.models import Patient, User

ROLES: Final = ("consultant", "nurse", "lead", "administrator")
PATIENCE_S: Final = 60
EACH: Final = 2  # pages of one view that are looked at
_LEAVE: Final = {"account_logout"}


@dataclass(frozen=True, slots=True)
class Found:
    """One form: who opened which page, and what the browser would send where."""

    role: str
    page: str
    form: Form
    match: ResolverMatch

    @property
    def name(self) -> str:
        """The name of the address that the form posts to."""
        return str(self.match.url_name)


def ready(say: Callable[[str], None]) -> None:
    """Put the invented department into an empty register, to have rows behind the pages."""
    if not Patient.objects.exists() and "load_demo" in get_commands():
        call_command("load_demo", past_patients=30, stdout=StringIO())
        say(f"{Patient.objects.count()} invented patients.")


def people() -> dict[str, User]:
    """Return one active person of each role, all of the department with the newest patient."""
    site = Patient.objects.order_by("-pk")[0].site
    rows = User.objects.filter(site=site, is_active=True).order_by("-pk")
    return {user.role: user for user in rows if user.role in ROLES}


def client_of(user: User) -> Client:
    """Return a signed-in browser that gets an answer also where the register breaks down."""
    client = nobody()
    client.force_login(user, backend=settings.AUTHENTICATION_BACKENDS[-1])
    return client


def nobody() -> Client:
    """Return a browser in which nobody is signed in."""
    return Client(SERVER_NAME="127.0.0.1", raise_request_exception=False)


def walk(clients: dict[str, Client]) -> tuple[list[str], list[Found]]:
    """Return the addresses that were opened and the forms on them, the same each time."""
    pages: dict[str, None] = {}
    forms: dict[tuple[str, str, str], Found] = {}
    for role, client in clients.items():
        for address, html in _pages(client):
            pages.setdefault(address)
            for form in read_page(html, address)[0]:
                match = match_of(form.action)
                if match and match.url_name not in _LEAVE:
                    key = (role, address.partition("?")[0], form.action)
                    forms.setdefault(key, Found(role, address, form, match))
    return list(pages), list(forms.values())


def _pages(client: Client) -> Iterator[tuple[str, str]]:
    """Yield the pages within reach of the first one, at most EACH of a view."""
    waiting, seen, counts = ["/"], {"/"}, dict[str, int]()
    while waiting:
        address = waiting.pop(0)
        answer = client.get(address, follow=True)
        if answer.redirect_chain:
            address = answer.redirect_chain[-1][0]
        if answer.status_code != 200 or "html" not in answer.headers.get("Content-Type", ""):
            continue
        html = b"".join(answer).decode()
        yield address, html
        for link in read_page(html, address)[1]:
            to = address.partition("?")[0] + link if link.startswith("?") else link
            match = match_of(to) if to.startswith("/") else None
            if match is None or to in seen or match.url_name in _LEAVE:
                continue
            seen.add(to)
            kind = f"{match.view_name} {match.kwargs.get('kind', '')}"
            counts[kind] = counts.get(kind, 0) + 1
            if counts[kind] <= EACH:
                waiting.append(to)


@contextmanager
def taken_back() -> Iterator[None]:
    """Undo whatever happens inside, so that each try finds the same register."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@contextmanager
def two_at_once() -> Iterator[Callable[..., list[Any]]]:
    """Give a way to call a function twice at the same moment, each over its own connection."""
    with ThreadPoolExecutor(2) as threads:

        def both(act: Callable[..., Any], *arguments: tuple[Any, ...]) -> list[Any]:
            start = Barrier(2)

            def one(given: tuple[Any, ...]) -> Any:
                start.wait(PATIENCE_S)
                return act(*given)

            return list(threads.map(one, arguments, timeout=PATIENCE_S))

        yield both
        both(connections.close_all, (), ())


@contextmanager
def quiet() -> Iterator[None]:
    """Leave the log out of a campaign that provokes thousands of refusals."""
    logging.disable(logging.CRITICAL)
    try:
        yield
    finally:
        logging.disable(logging.NOTSET)


def changes_after(number: int) -> list[tuple[int, str, str, str, str | None, str | None]]:
    """Return transaction, table, operation, key, old and new row of the changes after one."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT transaction_id, table_name, operation, row_key, old_row, new_row"
            " FROM audit.change_log WHERE id > %s ORDER BY id",
            [number],
        )
        return cursor.fetchall()
