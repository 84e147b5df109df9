"""Every page of every role, with real records, found by the resolver: loaded once, seen whole."""

import re

import pytest
from django.test import Client
from django.urls import get_resolver, reverse

from register.history import acting
from register.permissions import ROLE_RIGHTS
from tests.browser import eyes
from tests.browser.objects import ROLES, World, make_world
from tests.web.test_access_matrix import OPEN, patterns

# Pages about one patient carry the strip; these parts of an address mean one patient.
OF_ONE_PATIENT = {
    "patient_id", "referral_id", "fracture_id", "study_id", "reading_id", "assessment_id",
    "plan_id", "procedure_id", "entry_id", "part_id", "review_id", "result_id", "task_id",
    "line_id", "series_id", "frame_id", "marking_id", "planned_id",
}  # fmt: skip
# Parts of addresses that only take what is sent, or hand out a file.
ONLY_SENT = {"level_id", "direction", "draft_id", "form", "record_id"}
# Pages that need something else to be there first.
NOT_IN_THIS_WORLD = {
    "user-second-factor": "a person with a second factor",
    "referral-import-progress": "a part of the page that writes",
}
WITHOUT_STRIP = {
    "record-reason": "who it is about is not shown before a reason is given",
    "merge-find": "shows several people",
    "merge": "shows two records",
    "move": "shows two patients",
}
# What an address means where another page means something else by the same part.
OF_THE_PAGE = {"move": "study_id", "move-find": "study_id"}


@pytest.fixture
def world(transactional_db) -> World:
    with acting("test"):
        return make_world()


def addresses(world: World) -> list[tuple[str, str, bool]]:
    """(name, address, whether about one patient) of each page of our own."""
    found = [("home", "/", False)]
    for route, entry in patterns(get_resolver()):
        rights = getattr(entry.callback, "rights", None)
        if entry.name in OPEN or entry.name in NOT_IN_THIS_WORLD or not rights:
            continue
        names = re.findall(r"<\w+:(\w+)>", route)
        values = world.values | (
            {"kind": "study", "record_id": world.values[OF_THE_PAGE[entry.name]]}
            if entry.name in OF_THE_PAGE
            else {}
        )
        unknown = [name for name in names if name not in values]
        if unknown:
            assert ONLY_SENT.issuperset(unknown), f"{entry.name}: {unknown}"
            continue  # pages that only take what is sent
        args = [values[name] for name in names]
        one = bool(OF_ONE_PATIENT & set(names)) and entry.name not in WITHOUT_STRIP
        found.append((str(entry.name), reverse(entry.name, args=args), one))
    return found


# What is another for each person though the page is the same.
WHOSE = re.compile(r'<input type="hidden"[^>]*>|<p class="on-paper">Shown to [^<]*</p>')


@pytest.mark.parametrize("roles", [ROLES[:2], ROLES[2:]], ids=" and ".join)
def test_every_page_of_a_role_is_whole(signed_in, world, roles, picture):
    """A page that is the same for the second of two roles is looked at once."""
    seen: set[str] = set()
    told = [words for role in roles for words in faults_of(signed_in, world, role, picture, seen)]
    assert not told, "\n".join(told)


def faults_of(signed_in, world: World, role: str, picture, seen: set[str]) -> list[str]:
    """Open every page that a role may open and tell what is wrong."""
    user = world.people[role]
    client = Client()
    client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")
    page, told, count = signed_in(user), [], 0
    for name, address, one_patient in addresses(world):
        answer = client.get(address)
        if answer.status_code in (403, 405) or "html" not in answer.get("Content-Type", ""):
            continue
        if answer.status_code == 302 and name != "home":
            continue  # asks for a reason first
        assert answer.status_code in (200, 302), (name, answer.status_code)
        count += 1
        if (below_head := body_of(answer)) in seen:
            continue
        seen.add(below_head)
        page.goto(address)
        found = eyes.parts(page, one_patient=one_patient) + eyes.axe(page) + eyes.focus(page)
        picture(page, f"every-{role}-{name}")
        found += eyes.resized(page) + eyes.forced(page)
        told += [f"{name}: {words}" for words in found]
    print(f"{role}: {count} pages, {len(seen)} different ones so far")
    assert count >= len(ROLE_RIGHTS[role]) / 2
    return told


def body_of(answer) -> str:
    """What stands below the head, without what is each person's own; or where it leads."""
    html = answer.content.decode()
    return WHOSE.sub("", html[html.index("<main") :]) if html else answer.url


# Sent in as they come: each must tell its errors once, on top, and keep the page whole.
SENT_EMPTY = {
    "patient-new": "Save patient",
    "patient-search": "Find",
    "study-new": "Save study",
    "decide": "Save decision",
    "theatre-session-new": "Save",
    "theatre-session": "Put on the list",
    "attempt-new": "Save the try",
    "review": "Save contact",
    "referral-imports": "Look at the rows",
    "entry-cancel": "Take it off the list",
}


def test_a_form_sent_in_empty_says_so_once(signed_in, world):
    page = signed_in(world.people["consultant"])
    told = []
    for name, address, one_patient in addresses(world):
        if name not in SENT_EMPTY:
            continue
        page.goto(address)
        page.get_by_role("button", name=SENT_EMPTY[name], exact=True).click()
        page.locator(".error-summary").first.wait_for()
        if page.locator(".error-summary").count() != 1:
            told.append(f"{name}: errors told more than once")
        if not page.title().startswith("Error:"):
            told.append(f"{name}: the title does not say so")
        found = eyes.parts(page, one_patient=one_patient) + eyes.axe(page)
        told += [f"{name}: {words}" for words in found]
        for link in page.locator(".error-summary a").all():
            target = str(link.get_attribute("href"))
            if page.locator(target).count() != 1:
                told.append(f"{name}: {target} leads nowhere")
    assert not told, "\n".join(told)
