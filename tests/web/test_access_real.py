"""The matrix with rows behind every address: page, fragment, file, PDF; and foreign ids."""

import os
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.forms import BaseForm
from django.test import Client
from django.urls import reverse

from register.entry.whose import patient_of
from register.history import acting
from register.models import Patient
from register.permissions import ROLE_RIGHTS
from tests.browser.objects import World, make_world
from tests.web.real_pages import RealPage, client_of, real_pages

ROLES = [role for role in ROLE_RIGHTS if role]
# Every cell takes minutes: set REGISTER_FULL_MATRIX to have them all.
FULL = "REGISTER_FULL_MATRIX" in os.environ
WAYS: tuple[tuple[str, dict[str, str]], ...] = (("whole", {}), ("part", {"HX-Request": "true"}))
# Acts that a page's own rights do not settle: what the view asks for besides.
ASKS_MORE = {
    "plan": "saving is for those who decide or manage lists",
    "procedure": "saving is for those who record procedures",
    "record-aside": "the kind of record settles whose right it is",
    "record-back": "the kind of record settles whose right it is",
}
pytestmark = pytest.mark.usefixtures("undrawn")


@pytest.fixture
def world(db) -> World:
    with acting("test"):
        return make_world()


def asked(client: Client, method: str, page: RealPage, headers: dict[str, str]) -> Any:
    """Ask, and take back what the asking changed."""
    with transaction.atomic():
        answer = getattr(client, method)(page.address, headers=headers)
        content = b"".join(answer) if answer.streaming else answer.content
        transaction.set_rollback(True)
    answer.whole = content
    return answer


def cells(world: World) -> Iterator[tuple[str, str, str, RealPage, Any]]:
    pages = real_pages(world)
    for role in ROLES:
        client = client_of(world.people[role])
        for page in pages:
            for way, headers in WAYS:
                for method in ("get", "post"):
                    if FULL or not is_slow_and_sure(role, way, method, page):
                        yield role, method, way, page, asked(client, method, page, headers)


def is_slow_and_sure(role: str, way: str, method: str, page: RealPage) -> bool:
    """Whether a cell shows only what another one shows: a right that is enough, a part refused."""
    if way == "part" and method == "post":
        return True
    allowed = ROLE_RIGHTS[role] & set(page.rights)
    if not allowed or "see_patients" not in ROLE_RIGHTS[role]:
        return False
    return role == "nurse" or way == "part"


def names(world: World) -> set[str]:
    site = world.people["nurse"].site
    return {patient.family_name.lower() for patient in Patient.objects.filter(site=site)}


def test_rows_are_open_to_those_with_the_right_and_to_nobody_else(world):
    unexpected, count = [], 0
    shown = names(world)
    for role, method, way, page, answer in cells(world):
        count += 1
        allowed = bool(ROLE_RIGHTS[role] & set(page.rights))
        text = answer.whole.decode(errors="replace").lower()
        leaks = any(name in text for name in shown)
        status = answer.status_code
        if status >= 500:
            wrong = True
        elif not allowed:
            wrong = status != 403 or leaks
        elif role == "lead" and page.is_noted and patient_of(page.match) is not None:
            asks = status in (302, 204) and "/reason/" in (
                answer.get("Location", "") + answer.get("HX-Redirect", "")
            )
            wrong = not asks or leaks  # no reason was given yet
        elif role == "administrator" and page.is_noted and patient_of(page.match) is not None:
            wrong = status != 403 or leaks
        else:
            wrong = status == 403 and page.name not in ASKS_MORE
        if role in ("administrator", "lead") and leaks:
            wrong = True  # no reason was given: lists and files name nobody either
        if wrong:
            unexpected.append((page.name, role, method, way, status, leaks))
    print(f"{count} cells, {len(unexpected)} unexpected")
    assert not unexpected


def test_nobody_who_is_not_signed_in_gets_a_row(world):
    client, opened, count = Client(), [], 0
    for page in real_pages(world):
        for _, headers in WAYS:
            for method in ("get", "post"):
                answer = asked(client, method, page, headers)
                count += 1
                if answer.status_code not in (302, 401) or names(world) & set(
                    answer.whole.decode().lower().split()
                ):
                    opened.append((page.name, method, answer.status_code))
    print(f"{count} cells, {len(opened)} opened")
    assert not opened


def test_rows_of_another_site_do_not_exist_on_any_parameter(world):
    with acting("test"):
        other = make_world("Fernlea General Hospital")
    foreign, leaks, count = names(world), [], 0
    people = {role: client_of(other.people[role]) for role in ("consultant", "lead")}
    for page in real_pages(world):
        if not {part for part in page.match.kwargs if part.endswith("_id")}:
            continue
        for role, client in people.items():
            for _, headers in WAYS:
                for method in ("get", "post"):
                    answer = asked(client, method, page, headers)
                    count += 1
                    text = answer.whole.decode(errors="replace").lower()
                    if answer.status_code not in (403, 404, 405) or any(n in text for n in foreign):
                        leaks.append((page.name, role, method, answer.status_code))
    print(f"{count} cells, {len(leaks)} leaks")
    assert not leaks


def test_no_form_offers_or_takes_rows_of_another_site(world):
    with acting("test"):
        other = make_world("Fernlea General Hospital")
    offered, fields = [], 0
    for role in ROLES:
        client = client_of(world.people[role], list(Patient.objects.all()))
        for page in real_pages(world):
            answer = client.get(page.address)
            for name, field in choices_of(answer):
                fields += 1
                site = {getattr(one, "site_id", None) for one in field.queryset}
                if other.people["nurse"].site_id in site:
                    offered.append((page.name, role, name))
    print(f"{fields} lists of choices, {len(offered)} with foreign rows")
    assert fields
    assert not offered


def choices_of(answer: Any) -> Iterator[tuple[str, Any]]:
    """Every field of a page whose choices are rows."""
    for values in _flat(answer.context):
        for value in values.values():
            if isinstance(value, BaseForm):
                yield from ((n, f) for n, f in value.fields.items() if hasattr(f, "queryset"))


def _flat(context: Any) -> Iterator[dict[str, Any]]:
    """Every layer of values that any template of the answer saw."""
    for part in context or []:
        yield from getattr(part, "dicts", None) or [dict(part)]


def test_a_fracture_of_somebody_else_in_the_query_is_ignored(world):
    with acting("test"):
        other = make_world("Fernlea General Hospital")
    client = client_of(other.people["consultant"])
    address = reverse("patient-record", args=[other.values["patient_id"]])
    answer = client.get(address, {"fracture": world.values["fracture_id"]})
    assert answer.status_code == 200
    assert answer.context["chosen"].fracture.patient_id == other.values["patient_id"]
