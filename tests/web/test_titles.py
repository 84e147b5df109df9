"""The title of a page stays in the browser's history: it names the page and never a patient."""

import re
from collections import defaultdict
from html import unescape

import pytest
from django.test import Client
from django.urls import get_resolver, reverse

from register.domain.days import day_words
from register.domain.nhs_number import formatted
from register.history import acting
from register.models import FileImport, Patient
from tests.browser.objects import make_world
from tests.web.real_pages import client_of, real_pages
from tests.web.test_access_matrix import OPEN, ROLES, allowed, patterns

AFTER = " · Vertebral fracture register"
TITLE = re.compile(r"<title>(.*?)</title>", re.S)
pytestmark = pytest.mark.usefixtures("undrawn")


@pytest.fixture
def titles(db) -> dict[str, str]:
    """The title of every page that anybody may open, by the name of its address."""
    with acting("test"):
        world = make_world()
    found = {}
    everybody = list(Patient.objects.all())
    clients = {role: client_of(world.people[role], everybody) for role in ROLES}
    pages = [
        (page.name, page.address, clients[next(one for one in ROLES if allowed(one, page.rights))])
        for page in real_pages(world)
    ]
    pages += [
        (
            entry.name,
            reverse(entry.name),
            Client() if entry.name == "account_login" else clients["nurse"],
        )
        for _, entry in patterns(get_resolver())
        if entry.name in OPEN
    ]
    for name, address, client in pages:
        answer = client.get(address)
        if answer.status_code == 200 and "html" in answer["Content-Type"]:
            told = TITLE.search(answer.content.decode())
            if told:  # a fragment has none
                found[name] = unescape(told.group(1)).strip()
    return found


def test_each_page_has_a_title_of_its_own_that_names_no_patient_and_no_file(titles):
    of = defaultdict(set)
    for name, title in titles.items():
        assert title.endswith(AFTER), (name, title)
        assert len(title.removesuffix(AFTER)) > 2, name
        of[title].add(name)
    shared = {title: names for title, names in of.items() if len(names) > 1}
    assert len(titles) > 60
    assert not shared
    words = {value for one in Patient._base_manager.all() for value in identifiers(one)}
    words |= {kept.file_name.lower() for kept in FileImport.objects.all()}
    named = [
        (name, word) for name, title in titles.items() for word in words if word in title.lower()
    ]
    print(
        f"{len(titles)} pages, {len(of)} titles, {len(shared)} shared, {len(named)} name somebody"
    )
    assert not named


def identifiers(patient: Patient) -> set[str]:
    told = {
        patient.family_name, patient.given_name, patient.hospital_number,
        patient.nhs_number or "", day_words(patient.date_of_birth),
    }  # fmt: skip
    if patient.nhs_number:
        told.add(formatted(patient.nhs_number))
    return {word.lower() for word in told if word}
