"""Every page with its forms, as people of each role get them: found by the resolver."""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from functools import cache
from html.parser import HTMLParser
from typing import Any

from django.forms import BaseForm
from django.forms.formsets import BaseFormSet
from django.test import Client
from django.urls import get_resolver, reverse

from register.history import acting
from tests.browser.objects import ROLES, World, make_world
from tests.web.test_access_matrix import OPEN, patterns

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"
_DEPTH = 6


@dataclass(frozen=True)
class Page:
    """One page as one role saw it."""

    name: str
    role: str
    html: str
    forms: tuple[BaseForm, ...]
    controls: frozenset[str]

    def shows(self, form: BaseForm, name: str) -> bool:
        """Whether a box of this field stands on the page, be it in several parts."""
        box = form.add_prefix(name)
        return any(control == box or control.startswith(f"{box}_") for control in self.controls)


@cache
def every_page() -> tuple[Page, ...]:
    """Open every page in every role; call it in a test that may use the database.

    The rows are gone after that test; what is kept is what the pages said.
    """
    with acting("test"):
        world = make_world()
    return tuple(page for role in ROLES for page in _pages_of(world, role))


def forms_seen() -> Iterator[tuple[Page, BaseForm]]:
    """Yield every form of every page, each class of a page once."""
    told = set()
    for page in every_page():
        for form in page.forms:
            key = page.name, type(form)
            if key not in told:
                told.add(key)
                yield page, form


def _pages_of(world: World, role: str) -> Iterator[Page]:
    client = Client()
    client.force_login(world.people[role], backend=BACKEND)
    for name, address in _addresses(world):
        answer = client.get(address)
        if answer.status_code == 200 and "html" in answer.get("Content-Type", ""):
            found = tuple(_forms_in(answer.context or ()))
            yield Page(name, role, answer.text, found, frozenset(_controls(answer.text)))


def _addresses(world: World) -> Iterator[tuple[str, str]]:
    for route, entry in patterns(get_resolver()):
        names = re.findall(r"<\w+:(\w+)>", route)
        if entry.name in OPEN or not all(name in world.values for name in names):
            continue
        yield str(entry.name), reverse(entry.name, args=[world.values[name] for name in names])


def _forms_in(found: Any) -> Iterator[BaseForm]:
    seen: set[int] = set()
    for layer in found:
        for part in getattr(layer, "dicts", [layer]):
            yield from _walk(part, seen, _DEPTH)


def _walk(found: Any, seen: set[int], depth: int) -> Iterator[BaseForm]:
    if depth == 0 or id(found) in seen:
        return
    if isinstance(found, BaseForm):
        seen.add(id(found))
        yield found
        return
    for part in _parts(found):
        yield from _walk(part, seen, depth - 1)


def _parts(found: Any) -> Any:
    if isinstance(found, BaseFormSet):
        return found.forms
    if isinstance(found, Mapping):
        return list(found.values())
    if isinstance(found, list | tuple):
        return found
    if is_dataclass(found) and not isinstance(found, type):
        return [getattr(found, field.name) for field in fields(found)]
    return ()


class _Names(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        given = dict(attrs)
        by_hand = given.get("tabindex") != "-1" and given.get("type") != "hidden"
        if tag in ("input", "select", "textarea") and by_hand and given.get("name"):
            self.found.append(given["name"])


def _controls(html: str) -> list[str]:
    """Return the names of the boxes that a keyboard reaches."""
    reader = _Names()
    reader.feed(html)
    return reader.found
