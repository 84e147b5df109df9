"""Every page of every role, wide and narrow, with real records: found by the resolver."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import get_resolver, reverse
from playwright.sync_api import Page

from register.history import acting
from register.permissions import ROLE_RIGHTS
from tests.browser.objects import ROLES, World, make_world
from tests.web.test_access_matrix import OPEN, patterns

WIDTHS = (1280, 390)
# Pages about one patient carry the strip; these parts of an address mean one patient.
OF_ONE_PATIENT = {
    "patient_id", "referral_id", "fracture_id", "study_id", "reading_id", "assessment_id",
    "plan_id", "procedure_id", "entry_id", "part_id", "review_id",
}  # fmt: skip
WITHOUT_STRIP = {"record-reason": "who it is about is not shown before a reason is given"}
DIGITS = re.compile(r"\b\d{1,2}/\d{1,2}/\d{2}")
NOT_WIDE = "document.documentElement.scrollWidth <= innerWidth"
LOOK = """() => {
  const shown = (one) => one.checkVisibility();
  const blank = (cell) => !cell.textContent.trim()
    && !cell.querySelector("svg, img, input, select, textarea, button");
  const ids = [...document.querySelectorAll("[id]")].map((one) => one.id);
  const boxes = [...document.querySelectorAll("input, select, textarea")]
    .filter((box) => box.type !== "hidden" && !box.labels.length && !box.ariaLabel);
  const main = document.querySelector("main");
  const sticks = [...main.querySelectorAll(".sheet :is(input, select, textarea, button)")]
    .filter((box) => shown(box) && box.getBoundingClientRect().right
      > box.closest(".sheet").getBoundingClientRect().right + 1 && !box.closest(".table-frame"))
    .map((box) => box.name || box.textContent.trim());
  return {
    titles: document.querySelectorAll("h1").length,
    wide: document.documentElement.scrollWidth - innerWidth,
    widest: [...document.querySelectorAll("main *")]
      .filter((one) => shown(one) && one.getBoundingClientRect().right > innerWidth
        && !one.closest(".table-frame, svg"))
      .map((one) => one.tagName + "." + one.className).slice(0, 4),
    blank: [...document.querySelectorAll("td, th")].filter(blank)
      .map((cell) => cell.closest("tr").textContent.trim().slice(0, 60)),
    twice: ids.filter((id, place) => ids.indexOf(id) !== place),
    sticks,
    unlabelled: boxes.map((box) => box.name),
    strips: document.querySelectorAll("section.identity").length,
    main_buttons: [...document.querySelectorAll(".button--main")].filter(shown).length,
    text: document.body.innerText,
    none: main.innerText.match(/\\bNone\\b|\\bnan\\b|\\{\\{|\\}\\}/g) || [],
  };
}"""


@pytest.fixture
def world(transactional_db) -> World:
    with acting("test"):
        return make_world()


def addresses(world: World) -> list[tuple[str, str, bool]]:
    """(name, address, whether about one patient) of each page of our own."""
    found = [("home", "/", False)]
    for route, entry in patterns(get_resolver()):
        rights = getattr(entry.callback, "rights", None)
        if entry.name in OPEN or not rights:
            continue
        names = re.findall(r"<\w+:(\w+)>", route)
        unknown = [name for name in names if name not in world.values]
        if unknown:
            assert unknown in (["level_id"], ["direction"]), f"{entry.name}: {unknown}"
            continue  # pages that only take what is sent
        args = [world.values[name] for name in names]
        one = bool(OF_ONE_PATIENT & set(names)) and entry.name not in WITHOUT_STRIP
        found.append((str(entry.name), reverse(entry.name, args=args), one))
    return found


def faults(seen: dict[str, Any], *, one_patient: bool) -> list[str]:
    """What is wrong with a page, in words."""
    told = []
    if seen["titles"] != 1:
        told.append(f"{seen['titles']} main headings")
    if seen["wide"] > 0:
        told.append(f"{seen['wide']} px too wide: {seen['widest']}")
    if seen["strips"] != int(one_patient):
        told.append(f"{seen['strips']} identity strips")
    if seen["main_buttons"] > 1:
        told.append(f"{seen['main_buttons']} main buttons")
    told += [f"empty cell in: {words}" for words in seen["blank"]]
    told += [f"id twice: {name}" for name in seen["twice"]]
    told += [f"sticks out of its sheet: {name}" for name in seen["sticks"]]
    told += [f"box without label: {name}" for name in seen["unlabelled"]]
    told += [f"date in figures: {date}" for date in DIGITS.findall(seen["text"])]
    told += [f"left over: {word}" for word in seen["none"]]
    return told


@pytest.mark.parametrize("roles", [ROLES[:1], ROLES[1:2], ROLES[2:]], ids=" and ".join)
def test_every_page_of_a_role_is_whole(signed_in, world, roles, picture):
    told = [words for role in roles for words in faults_of(signed_in, world, role, picture)]
    assert not told, "\n".join(told)


def faults_of(signed_in, world: World, role: str, picture) -> list[str]:
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
        for width, seen in looks(page, address):
            told += [
                f"{name} at {width}: {words}" for words in faults(seen, one_patient=one_patient)
            ]
            picture(page, f"every-{role}-{name}-{width}")
    print(f"{role}: {count} pages")
    assert count >= len(ROLE_RIGHTS[role]) / 2
    return told


def looks(page: Page, address: str) -> Iterator[tuple[int, dict[str, Any]]]:
    """Look at a page at each width."""
    page.set_viewport_size({"width": WIDTHS[0], "height": 900})
    page.goto(address)
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        for _ in range(20):  # charts follow the screen a moment later
            if page.evaluate(NOT_WIDE):
                break
            page.wait_for_timeout(100)
        yield width, page.evaluate(LOOK)


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
    "entry-cancel": "Save",
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
        told += [
            f"{name}: {words}" for words in faults(page.evaluate(LOOK), one_patient=one_patient)
        ]
        for link in page.locator(".error-summary a").all():
            target = str(link.get_attribute("href"))
            if page.locator(target).count() != 1:
                told.append(f"{name}: {target} leads nowhere")
    assert not told, "\n".join(told)
