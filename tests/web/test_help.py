"""Every page explains itself; the first steps are ticked off from what is recorded."""

import re

import pytest
from django.urls import reverse

from planning.rules.outcomes import Effect, Stage, Verdict
from register.domain.clock import WindowState
from register.domain.glossary import GLOSSARY, words_explained
from register.domain.protocol import SourceKind
from register.domain.timepoints import ContactState
from register.domain.vocabulary import ABSENT, REVIEW_END
from register.help import SHARED, help_named
from register.history import acting
from tests.factories import make_fracture, make_patient, make_referral
from tests.web.people import People, make_people
from tests.web.test_access_matrix import ROLES, allowed, pages

# Addresses that answer with something that is no page: each with its reason.
NO_PAGE = {
    "reading-drawing": "a piece of the page of a level",
    "review-draft": "takes and hands out unfinished typing",
    "home": "sends each person on",
    "image-pixels": "the values of a picture for a script",
    "draft-token": "hands out one word to a script",
    "referral-import-empty": "a file",
    "referral-import-refused": "a file",
    "referral-import-progress": "a figure for a script",
}
FILE = re.compile(r"\.(pdf|csv|json|txt|xlsx)$")


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


def test_every_page_has_its_words(people):
    """A page is what can be asked for: an address that only takes what is sent answers 405."""
    clients = {role: people.client(role) for role in ROLES}
    missing = []
    for name, address, rights in pages():
        if name in NO_PAGE or FILE.search(address) or help_named(name):
            continue
        role = next(role for role in ROLES if allowed(role, rights))
        if clients[role].get(address).status_code != 405:
            missing.append(name)
    assert not missing, f"write templates/help/<name>.html for: {', '.join(missing)}"


def test_shared_words_exist():
    assert [name for name, other in SHARED.items() if not help_named(other)] == []


def test_the_panel_stands_on_a_page_and_leads_to_all_words(people):
    page = people.client("nurse").get(reverse("follow-up-due")).content.decode()
    assert page.count("About this page") == 1
    assert reverse("words") in page
    assert "Nearest close of the window first." in page


def test_a_page_that_does_not_exist_does_not_pretend_to_be_another(people):
    page = people.client("nurse").get(reverse("review", args=[987654321])).content.decode()
    assert "Nothing was saved by the step that led here." in page
    assert "the scores, one digit" not in page


def test_every_word_of_a_state_is_explained():
    words = {one.words for kind in (Verdict, Effect, Stage, WindowState) for one in kind}
    words |= {one.words for kind in (ContactState, SourceKind) for one in kind}
    words |= {told for _, told in (*ABSENT, *REVIEW_END)}
    assert words - words_explained() == set()


def test_no_word_is_explained_twice():
    told = [word for group in GLOSSARY for word, _ in group.words]
    assert len(told) == len(set(told))


@pytest.mark.parametrize("role", ROLES)
def test_first_steps_stand_on_the_start_page_of_an_empty_register(people, role):
    answer = people.client(role).get("/", follow=True)
    steps = answer.context["first_steps"]
    assert 3 <= len(steps) <= 6
    assert all(people.client(role).get(step.url).status_code == 200 for step in steps)


def test_a_step_is_ticked_off_by_what_is_recorded(people):
    client = people.client("consultant")
    assert not client.get(reverse("waiting")).context["first_steps"][0].done
    with acting("test"):
        make_fracture(make_referral(make_patient(people.site)))
    steps = client.get(reverse("waiting")).context["first_steps"]
    assert [step.done for step in steps] == [True, False, False, False, False, False]


def test_first_steps_are_hidden_and_brought_back(people):
    client = people.client("nurse")
    client.post(reverse("first-steps"))
    assert "first_steps" not in client.get(reverse("follow-up-due")).context
    client.post(reverse("first-steps"), {"show": "yes"})
    assert client.get(reverse("follow-up-due")).context["first_steps"]
