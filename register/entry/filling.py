"""Put typing back into the boxes of a page, exactly as it was typed.

The page is rewritten box by box, by the names of the boxes, whichever form drew
them. What was typed into a box that the page does not show just now (a reason that
was asked for, a line of a list) gets a box of its own at the end of the form.
"""

from collections.abc import Mapping
from html.parser import HTMLParser
from typing import Final

from django.utils.html import escape, format_html

from register.entry.statement import FIELD
from register.forms.conflicts import TICK

_OWN: Final = {"csrfmiddlewaretoken", "token", FIELD}
_BUTTONS: Final = {"submit", "button", "image", "reset"}
Attributes = list[tuple[str, str | None]]


def fill(page: str, *, typed: Mapping[str, list[str]], action: str, here: str) -> str:
    """Return the page with `typed` in the form that posts to `action`; `here` is its address."""
    filler = _Filler(page, typed, action, here)
    filler.feed(page)
    filler.close()
    return "".join(filler.out)


class _Filler(HTMLParser):
    """Copies a page and changes only the boxes of one form."""

    def __init__(self, page: str, typed: Mapping[str, list[str]], action: str, here: str) -> None:
        super().__init__(convert_charrefs=False)
        self.out: list[str] = []
        self.left = {
            name: list(values)
            for name, values in typed.items()
            if name not in _OWN
            and not name.endswith(TICK)  # decided between values of a page that is gone
        }
        self.typed = {name: list(values) for name, values in self.left.items()}
        self.action, self.here = action, here
        self.is_inside = self.is_done = False
        self.select: str | None = None  # the name of the list whose options come now
        self.is_silent = False  # inside a text area whose old text is left out
        self.labels: dict[str, str] = {}
        self.label_for: str | None = None

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        given = dict(attrs)
        if tag == "form" and not self.is_done and (given.get("method") or "").lower() == "post":
            self.is_inside = (given.get("action") or self.here) == self.action
        if self.is_inside and tag == "label":
            self.label_for = given.get("for")
        changed = self._changed(tag, given) if self.is_inside else None
        self.out.append(self.get_starttag_text() or "" if changed is None else changed)
        if self.is_inside and tag == "textarea":
            self._text_area(given)

    def handle_startendtag(self, tag: str, attrs: Attributes) -> None:
        self.handle_starttag(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if tag == "textarea":
            self.is_silent = False
        if tag == "select":
            self.select = None
        if tag == "label":
            self.label_for = None
        if tag == "form" and self.is_inside:
            self.out.append(self._rest())
            self.is_inside, self.is_done = False, True
        self.out.append(f"</{tag}>")

    def handle_data(self, data: str) -> None:
        if self.label_for:
            self.labels.setdefault(self.label_for, data.strip())
        if not self.is_silent:
            self.out.append(data)

    def handle_entityref(self, name: str) -> None:
        self.handle_data(f"&{name};")

    def handle_charref(self, name: str) -> None:
        self.handle_data(f"&#{name};")

    def handle_comment(self, data: str) -> None:
        self.out.append(f"<!--{data}-->")

    def handle_decl(self, decl: str) -> None:
        self.out.append(f"<!{decl}>")

    def _changed(self, tag: str, given: dict[str, str | None]) -> str | None:
        """Return the tag with what was typed; None to leave it as it is."""
        name = given.get("name") or ""
        if tag == "option" and self.select is not None:
            is_chosen = (given.get("value") or "") in self.typed.get(self.select, [])
            return _tag(tag, _switched(given, "selected", is_chosen))
        if name in _OWN:
            return None
        if tag == "button" or (tag == "input" and given.get("type") in _BUTTONS):
            self.left.pop(name, None)  # a button that was pressed is not typing
            return None
        if tag == "select" and name:
            self.select = name
            self.left.pop(name, None)
        if tag == "input" and name:
            return self._input(name, given)
        return None

    def _input(self, name: str, given: dict[str, str | None]) -> str | None:
        if given.get("type") in ("checkbox", "radio"):
            self.left.pop(name, None)
            is_ticked = (given.get("value") or "on") in self.typed.get(name, [])
            return _tag("input", _switched(given, "checked", is_ticked))
        if given.get("type") == "file" or name not in self.typed:
            return None
        return _tag("input", given | {"value": self._next(name)})

    def _text_area(self, given: dict[str, str | None]) -> None:
        name = given.get("name") or ""
        if name in self.typed:
            self.out.append(f"\n{escape(self._next(name))}")
            self.is_silent = True

    def _next(self, name: str) -> str:
        """Return what was typed into the next box of a name."""
        values = self.left.get(name, [])
        value = values.pop(0) if values else ""
        if not values:
            self.left.pop(name, None)
        return value

    def _rest(self) -> str:
        """Return boxes for what has no box on the page now."""
        rest = [(name, value) for name, values in self.left.items() for value in values if value]
        return "".join(
            format_html(
                '<p class="field"><label class="field__label" for="kept-{}">{}</label> '
                '<input type="text" class="box--text" id="kept-{}" name="{}" value="{}"></p>',
                number,
                self._label(name),
                number,
                name,
                value,
            )
            for number, (name, value) in enumerate(rest)
        )

    def _label(self, name: str) -> str:
        for ending, words in (("_unlikely", "Why it is right"), ("_absent", "Why there is none")):
            if name.endswith(ending):
                return f"{self.labels.get('id_' + name.removesuffix(ending), 'Reason')}: {words}"
        return "Also typed"


def _switched(given: dict[str, str | None], switch: str, is_on: bool) -> dict[str, str | None]:
    kept: dict[str, str | None] = {name: value for name, value in given.items() if name != switch}
    return kept | ({switch: None} if is_on else {})


def _tag(tag: str, given: Mapping[str, str | None]) -> str:
    """Write a tag; a switch has no value. The parser gave the values without entities."""
    written = "".join(
        f" {name}" if value is None else f' {name}="{escape(value)}"'
        for name, value in given.items()
    )
    return f"<{tag}{written}>"
