"""Every address that takes something sent has a class, and the class is true.

The table is `register/safety/acts.toml`; the addresses come from the resolver.
"""

import re
import tomllib
from collections import Counter

import pytest
from django.conf import settings
from django.test import Client
from django.urls import get_resolver, reverse

from register.drills._forms import forms_of
from register.history import acting
from register.models import Patient
from tests.browser.objects import World, make_world
from tests.web.people import People
from tests.web.real_pages import client_of, real_pages
from tests.web.test_access_matrix import OPEN, ROLES, allowed, pages, patterns
from tests.web.test_headers import changes

ACTS = tomllib.loads((settings.BASE_DIR / "register/safety/acts.toml").read_text())
# Acts that ask on a page which this world reaches only in another state.
NOT_IN_THIS_WORLD = {
    "user-second-factor": "needs a person with a second factor: test_second_factor",
    "record-aside": "needs a record on which no other depends: test_aside",
    "record-back": "needs a record that was set aside: test_aside",
    "import-undo": "needs an import that was written: test_import_undo",
    "transfer-undo": "needs a transfer: test_transfers",
}
# Ways back that this world's pages offer only later.
OFFERED_LATER = {
    "drafts": "once something was thrown away: test_drafts",
    "record-aside": NOT_IN_THIS_WORLD["record-aside"],
}
# Pages of the sign-in library that answer a POST by asking for a code, and take nothing.
SHOWS_ONLY = {
    "mfa_index": "one's own account",
    "mfa_view_recovery_codes": "the codes, after a code",
    "mfa_download_recovery_codes": "the codes as a file, after a code",
}


@pytest.fixture
def world(db) -> World:
    with acting("test"):
        return make_world()


def takes_posts(people: People) -> set[str]:
    """Names of the addresses at which somebody can send something; ids that no row has."""
    clients = {role: people.client(role) for role in ROLES}
    found = set()
    for name, address, rights in pages():
        role = next(role for role in ROLES if allowed(role, rights))
        if clients[role].post(address).status_code != 405:
            found.add(name)
    for _, entry in patterns(get_resolver()):
        if entry.name in OPEN:
            codes = {
                one.post(reverse(entry.name)).status_code for one in (clients["nurse"], Client())
            }
            if codes - {404, 405}:
                found.add(entry.name)
    return found - SHOWS_ONLY.keys()


def test_every_address_that_takes_something_has_a_class(people):
    taking = takes_posts(people)
    told = {name: line["act"] for name, line in ACTS.items()}
    counts = Counter(told.values())
    print(f"{len(taking)} addresses take something: {dict(counts)}")
    assert taking - told.keys() == set(), "write a line in register/safety/acts.toml"
    assert told.keys() - taking == set(), "these take nothing"


def test_a_line_says_what_its_class_needs():
    names = {entry.name for _, entry in patterns(get_resolver())}
    needed = {"saves": {"undo"}, "undoable": {"undo"}, "harmless": {"why"}, "asks": set()}
    for name, line in ACTS.items():
        assert needed[line["act"]] <= line.keys(), name
        assert line.keys() <= {"act", "undo", "needs", "why"}, name
        assert line.get("undo", name) in names, name
        if line["act"] == "asks":
            assert {"needs", "undo", "why"} & line.keys(), name


def test_the_page_of_a_way_back_opens_and_offers_a_form(world):
    everybody = list(Patient.objects.all())
    clients = {role: client_of(world.people[role], everybody) for role in ROLES}
    ways = {line["undo"] for line in ACTS.values() if line["act"] in ("saves", "undoable")}
    looked_at = [one for one in real_pages(world) if one.name in ways - OFFERED_LATER.keys()]
    assert len(looked_at) > 20
    for page in looked_at:
        role = next(role for role in ROLES if allowed(role, page.rights))
        answer = clients[role].get(page.address)
        assert answer.status_code == 200, page.name
        forms = forms_of(answer.content.decode(), page.address)
        assert {one.action for one in forms} - {reverse("account_logout")}, page.name


def test_what_asks_has_a_page_and_does_nothing_without_its_answer(world):
    everybody = list(Patient.objects.all())
    clients = {role: client_of(world.people[role], everybody) for role in ROLES}
    asks = {name for name, line in ACTS.items() if line["act"] == "asks" and name not in OPEN}
    asks -= NOT_IN_THIS_WORLD.keys()
    for page in real_pages(world):
        if page.name in asks:
            role = next(role for role in ROLES if allowed(role, page.rights))
            assert clients[role].get(page.address).status_code == 200, page.name
            before = changes()
            sent = clients[role].post(page.address, {"unknown": "box"})
            assert changes() == before, f"{page.name} did something unasked"
            assert sent.status_code != 302, page.name
            needs = ACTS[page.name].get("needs", "")
            assert not needs or sent.status_code == 422, page.name
            assert not needs or needs in boxes_of(sent), (page.name, needs)
            asks.remove(page.name)
    assert not asks


def boxes_of(answer) -> set[str]:
    """Names of the boxes of a page that came back with an error."""
    return set(re.findall(r'id="id_([a-z_]+?)_error"', answer.content.decode()))
