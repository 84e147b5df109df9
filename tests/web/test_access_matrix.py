"""Every address × every role × GET and POST, generated from the resolver.

A new page is in the matrix by itself; a page without declared rights must be on
the list below with its reason.
"""

from collections.abc import Iterator

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import URLPattern, URLResolver, get_resolver

from register.history import acting
from register.permissions import ROLE_RIGHTS
from tests.web.people import People, make_people

# Pages that anybody, or anybody signed in, may open; each with its reason.
OPEN = {
    "home": "sends each role to its own first page",
    "account_login": "signing in",
    "account_logout": "signing out",
    "account_inactive": "says that the account is closed",
    "account_reauthenticate": "asks for the password again",
    "account_change_password": "one's own password",
    "account_signup": "answers 404: nobody signs up",
    "account_reset_password": "answers 404",
    "account_set_password": "answers 404",
    "account_email": "answers 404",
    "openid_connect_login": "going to the hospital's sign-in, where it is switched on",
    "openid_connect_callback": "coming back from there",
    "mfa_index": "one's own account",
    "mfa_authenticate": "asks for the code after the passphrase",
    "mfa_reauthenticate": "asks for a code again",
    "mfa_activate_totp": "sets one's own second factor up",
    "mfa_deactivate_totp": "changes one's own second factor",
    "mfa_view_recovery_codes": "one's own recovery codes",
    "mfa_generate_recovery_codes": "one's own recovery codes",
    "mfa_download_recovery_codes": "one's own recovery codes",
}
ROLES = [role for role in ROLE_RIGHTS if role]


def patterns(resolver: URLResolver, prefix: str = "") -> Iterator[tuple[str, URLPattern]]:
    for entry in resolver.url_patterns:
        route = prefix + str(entry.pattern)
        if isinstance(entry, URLResolver):
            yield from patterns(entry, route)
        else:
            yield route, entry


def pages() -> list[tuple[str, str, tuple[str, ...]]]:
    """(name, address, rights) of every page of our own; ids that no row has."""
    found = []
    for route, entry in patterns(get_resolver()):
        name = entry.name or ""
        if name in OPEN:
            continue
        address = "/" + route
        for converter in ("<int:", "<str:", "<slug:"):
            while converter in address:
                start = address.index(converter)
                end = address.index(">", start)
                value = "2099" if "year" in address[start:end] else "987654321"
                value = "1" if "number" in address[start:end] else value
                address = address[:start] + value + address[end + 1 :]
        rights = getattr(entry.callback, "rights", None)
        assert rights, f"{name} ({route}) declares no right; use @needs or list it in OPEN"
        found.append((name, address, rights))
    return found


pytestmark = pytest.mark.usefixtures("undrawn")


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


def allowed(role: str, rights: tuple[str, ...]) -> bool:
    return bool(ROLE_RIGHTS[role] & set(rights))


def test_every_page_is_open_to_those_with_the_right_and_to_nobody_else(people):
    unexpected, cells = [], 0
    clients = {role: people.client(role) for role in ROLES}
    for name, address, rights in pages():
        for role in ROLES:
            for method in ("get", "post"):
                status = getattr(clients[role], method)(address).status_code
                cells += 1
                if (status == 403) == allowed(role, rights) or status >= 500:
                    unexpected.append((name, role, method, status))
    print(f"{cells} cells, {len(unexpected)} unexpected")
    assert not unexpected


def test_nobody_who_is_not_signed_in_sees_a_page(people):
    client = Client()
    for name, address, _ in pages():
        for answer in (client.get(address), client.post(address)):
            assert answer.status_code == 302, name
            assert answer.url.startswith("/account/sign-in/"), name


def test_a_person_without_a_site_may_do_nothing(people):
    user = people.users["consultant"]
    with acting("test"):
        user.site = None
        user.save()
    client = people.client("consultant")
    for name, address, _ in pages():
        assert client.get(address).status_code == 403, name


def test_pages_are_never_kept_by_a_cache(people):
    answer = people.client("nurse").get("/theatre/")
    assert answer["Cache-Control"] == "no-store"


def test_text_that_cannot_be_stored_is_refused_before_any_page_sees_it(people):
    client = people.client("nurse")
    assert client.get("/theatre/", {"past": "\x00"}).status_code == 400
    with_file = {"room": "\x00", "file": SimpleUploadedFile("f.csv", b"a\x00")}
    for sent in ({"room": "\x00"}, with_file):
        for one in (client, Client()):
            assert one.post("/theatre/new/", sent).status_code == 400
