"""Filters of a list, read from the address: codes only, never a name or a number.

So a reload, the Back button and a link that is sent on give the same list. What an
address asks for and the list does not have counts as not asked, and the page says so.
"""

from typing import Any

from django import forms
from django.utils.http import urlencode


class FilterForm(forms.Form):
    """Choices that narrow a list; each box is optional and its blank answer is "all".

    The template is `components/filters.html`.
    """

    use_required_attribute = False

    def __init__(self, data: Any, **options: Any) -> None:
        super().__init__(data, label_suffix="", **options)
        self.offer()
        self.unknown: list[str] = [str(self.fields[name].label) for name in self.errors]
        if self.unknown:
            known = data.copy()
            for name in self.errors:
                known.pop(name, None)
            self.data = known
            self.full_clean()

    def offer(self) -> None:
        """Fill in choices that are known only now; called before anything is read."""

    def chosen(self) -> dict[str, str]:
        """Return the filters in use, by name; those left at "all" are not among them."""
        return {name: self.cleaned_data[name] for name in self.fields if self.cleaned_data[name]}

    def words(self) -> str:
        """Return the filters in use in words, for paper: "Clock: window closed"; blank without."""
        told = []
        for name, value in self.chosen().items():
            box: Any = self.fields[name]
            told.append(f"{box.label}: {dict(box.choices)[value]}")
        return "; ".join(told)

    def query(self, **others: str) -> str:
        """Return the filters as the beginning of a query ("a=1&"), some of them replaced."""
        kept = {name: value for name, value in (self.chosen() | others).items() if value}
        return f"{urlencode(kept)}&" if kept else ""
