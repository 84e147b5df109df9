"""The forms of a page as a browser would send them."""

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any

from django.test import Client


@dataclass
class Form:
    """One form that posts: where to, what its boxes hold (hidden ones too), and their kinds."""

    action: str
    data: dict[str, list[str]] = field(default_factory=dict)
    buttons: list[str] = field(default_factory=list)
    kinds: dict[str, str] = field(default_factory=dict)
    words: str = ""

    def typed(self, **changes: Any) -> dict[str, Any]:
        """Return what would be sent after typing `changes`."""
        return self.data | changes


def forms_of(html: str, address: str) -> list[Form]:
    """Return the forms of a page that post; `address` is where the page stands."""
    return read_page(html, address)[0]


def read_page(html: str, address: str) -> tuple[list[Form], list[str]]:
    """Return the forms of a page that post, and where its links lead."""
    reader = _Reader(address.partition("?")[0])
    reader.feed(html)
    return reader.forms, reader.links


def form_at(client: Client, address: str, action: str = "") -> Form:
    """Open a page and return its form that posts to `action` (the page itself by default)."""
    page = client.get(address)
    if page.status_code != 200:
        raise LookupError(f"{address} answered {page.status_code}")
    wanted = action or address.partition("?")[0]
    return next(form for form in forms_of(page.content.decode(), address) if form.action == wanted)


class _Reader(HTMLParser):
    def __init__(self, address: str) -> None:
        super().__init__()
        self.address = address
        self.forms: list[Form] = []
        self.open: Form | None = None
        self.links: list[str] = []
        self.select: str | None = None
        self.area: str | None = None

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        given = dict(attrs)
        if tag == "a" and given.get("href"):
            self.links.append(given["href"])
        if tag == "form" and given.get("method", "").lower() == "post":
            self.open = Form(given.get("action") or self.address)
            self.forms.append(self.open)
        if self.open is None:
            return
        name = given.get("name")
        if tag == "button" and name:
            self.open.buttons.append(name)
        elif tag == "input" and name:
            self._input(name, given)
        elif tag == "select":
            self.select = name
            self.open.kinds[str(name)] = "select"
        elif tag == "textarea" and name:
            self.area = name
            self.open.kinds[name] = "textarea"
            self.open.data.setdefault(name, []).append("")
        elif tag == "option" and self.select and "selected" in given:
            self.open.data.setdefault(self.select, []).append(given.get("value", ""))

    def _input(self, name: str, given: dict[str, str]) -> None:
        if self.open is None:
            return
        kind = given.get("type", "text")
        self.open.kinds[name] = kind
        if kind in ("submit", "button", "image", "file"):
            return
        if kind in ("checkbox", "radio") and "checked" not in given:
            return
        self.open.data.setdefault(name, []).append(given.get("value") or "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.open = None
        elif tag == "select":
            self.select = None
        elif tag == "textarea":
            self.area = None

    def handle_data(self, data: str) -> None:
        if self.open is None:
            return
        self.open.words += data
        if self.area:
            values = self.open.data[self.area]
            values[-1] = (values[-1] + data).removeprefix("\n")
