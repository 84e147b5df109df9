"""When somebody else was faster: both values of each field, and a tick to keep the recorded one.

What the person left as it was is kept as the other one recorded it; it is told, not asked. For
every other field the box holds what was typed, and a tick beside it takes what is recorded.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.utils.html import strip_tags

from register.domain.days import precision_of
from register.models.base import Record
from register.selectors.people import person_words
from register.services.editing import EditConflict
from register.templatetags.units import fact, figures

TICK: Final = "_recorded"


@dataclass(frozen=True, slots=True)
class Compared:
    """One field in which the two differ, in words; `is_untouched`: the person left it alone."""

    name: str
    label: str
    theirs: Any
    yours: Any
    is_untouched: bool


@dataclass(frozen=True, slots=True)
class Difference:
    """One field that differs: its label, what stands now, what was typed.

    `is_kept`: the person had not touched it, so that what stands now is kept.
    """

    label: str
    theirs: Any
    yours: Any
    is_kept: bool = False


@dataclass(frozen=True, slots=True)
class Conflict:
    """What the page tells after somebody else was faster."""

    changed_by: str
    changed_at: Any
    differences: tuple[Difference, ...]

    @property
    def is_open(self) -> bool:
        """Whether a field is left in which the two differ by what both of them did."""
        return any(not one.is_kept for one in self.differences)


class TakesRecorded:
    """For forms whose `initial` holds what was recorded in `recorded_version`."""

    conflict: Conflict | None = None
    recorded_version: int

    def full_clean(self) -> None:
        """Put what is recorded into every box whose tick came back."""
        form: Any = self
        ticked = [name for name in form.fields if form.add_prefix(name + TICK) in form.data]
        for name in ticked:
            self.put_recorded(name)
        super().full_clean()  # type: ignore[misc]

    def put_recorded(self, name: str) -> None:
        """Make a box, and the reasons beside it, hold what is recorded."""
        form: Any = self
        data = form.data.copy()
        for box in self.boxes_of(name):
            field = form.fields[box]
            value = field.prepare_value(form.get_initial_for_field(field, box))
            _write(data, field.widget, form.add_prefix(box), value)
        form.data = data

    def boxes_of(self, name: str) -> list[str]:
        """Return the boxes of a column that this form has."""
        form: Any = self
        boxes = (name, f"{name}_absent", f"{name}_unlikely")
        return [box for box in boxes if box in form.fields]

    def offer_recorded(self, name: str, words: Any) -> None:
        """Put a tick beside a box that takes what is recorded, in these words."""
        form: Any = self
        if name in form.fields and not form.fields[name].widget.is_hidden:
            tick = forms.BooleanField(
                label=f"take what is recorded now: {strip_tags(str(words))}", required=False
            )
            tick.is_companion = True  # type: ignore[attr-defined]
            form.fields[name + TICK] = tick


def tell_conflict(
    form: Any,
    error: EditConflict,
    *,
    words: Mapping[str, str] | None = None,
    more: Iterable[Compared] = (),
) -> Conflict:
    """Return both values of every field that differs, in words, and prepare its box.

    `form` has an `instance`; its boxes hold what was typed. `words` are the columns that are
    told, with their labels; without it all are, by their boxes. `more` differs beside them.
    """
    compared = (*_columns(form, error, words), *more)
    told = tuple(_difference(form, error, one) for one in compared)
    return Conflict(person_words(error.changed_by), error.changed_at, told)


def _difference(form: Any, error: EditConflict, one: Compared) -> Difference:
    """Keep what stands now where the person left it alone, else offer it beside the box.

    Only if the form was made of what stands now: a save in this very moment comes later.
    """
    is_current = form.recorded_version == error.version
    is_kept = one.is_untouched and is_current and bool(form.boxes_of(one.name))
    if is_kept:
        form.put_recorded(one.name)
    else:
        form.offer_recorded(one.name, one.theirs)
    return Difference(one.label, one.theirs, one.yours, is_kept)


def _columns(form: Any, error: EditConflict, words: Mapping[str, str] | None) -> Iterator[Compared]:
    kind = type(form.instance)
    yours, theirs = (_row(kind, values) for values in (error.yours, error.theirs))
    for name in _differing(error):
        if words is None or name in words:
            label = _label(form, name) if words is None else words[name]
            unit = str(getattr(form.fields.get(name), "unit", ""))
            unit = "" if unit.startswith(("of ", "ratio")) else unit  # "5" needs no "of 10"
            there, here = fact(theirs, name, unit), fact(yours, name, unit)
            yield Compared(name, label, there, here, _is_untouched(error, name))


def _differing(error: EditConflict) -> Iterator[str]:
    """Yield the fields that the other one changed, and whose value, exactness or reason differ."""
    beside = {"absent", "unusual"} | {precision_of(name) for name in error.yours}
    for name in error.yours:
        if name in beside or _said(error.yours, name) == _said(error.theirs, name):
            continue
        if not error.before or _said(error.theirs, name) != _said(error.before, name):
            yield name


def _is_untouched(error: EditConflict, name: str) -> bool:
    """Whether the person would save a field as it was when the page was opened."""
    return bool(error.before) and _said(error.yours, name) == _said(error.before, name)


def _said(values: Mapping[str, Any], name: str) -> tuple[Any, ...]:
    """Return a value with what belongs to it."""
    reasons = (values.get(beside) or {} for beside in ("absent", "unusual"))
    value = values.get(name)
    return (
        sorted(value) if isinstance(value, list) else value,
        values.get(precision_of(name), ""),
        *(reason.get(name, "") for reason in reasons),
    )


def _row(kind: type[Record], values: dict[str, Any]) -> Record:
    """Return an unsaved record with these values, to read them in words.

    Numbers are without the zeros that a column adds: what was typed as 1.3 is stored as 1.30.
    """
    plain = {
        name: Decimal(figures(value)) if isinstance(value, Decimal) else value
        for name, value in values.items()
    }
    return kind(**plain)


def _label(form: Any, name: str) -> str:
    if name in form.fields:
        return str(form.fields[name].label)
    column = form.instance._meta.get_field(name)
    return str(column.verbose_name).capitalize()


def _write(data: Any, widget: Any, name: str, value: Any) -> None:
    """Write into posted data what a box would send that shows a value."""
    if isinstance(widget, forms.MultiWidget):
        boxes: Any = widget
        insides = boxes.decompress(value)
        for box, ending, inside in zip(boxes.widgets, boxes.widgets_names, insides, strict=True):
            _write(data, box, name + ending, inside)
        return
    data.pop(name, None)
    shown = widget.format_value(value)
    if isinstance(widget, forms.CheckboxInput):
        shown = ["on"] if value else []
    elif not isinstance(shown, list | tuple):
        shown = [] if shown is None else [shown]
    if shown:
        data.setlist(name, [str(one) for one in shown])
    elif not isinstance(widget, forms.CheckboxInput | forms.CheckboxSelectMultiple):
        data[name] = ""
