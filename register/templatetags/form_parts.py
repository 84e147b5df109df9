"""The parts of a form that crispy-forms does not know, for the pack in register_form."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django import template
from django.forms import BaseForm, BoundField
from django.forms.formsets import BaseFormSet
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

register = template.Library()


@dataclass(frozen=True, slots=True)
class Problem:
    """One error: the words, and the id of the box it is about ("" for the whole form)."""

    words: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Box:
    """One of the boxes of a date."""

    id: str
    label: str
    html: SafeString


@register.simple_tag
def errors_of(form: Any, forms: Any = None) -> list[Problem]:
    """Return every error of a form, a formset, or several of them, in the order of the boxes."""
    problems: list[Problem] = []
    for one in [form, *(forms or [])]:
        if isinstance(one, BaseFormSet):
            problems += [Problem(str(words), "") for words in one.non_form_errors()]
            problems += [problem for part in one.forms for problem in _problems(part)]
        elif isinstance(one, BaseForm):
            problems += _problems(one)
    return problems


def _problems(form: BaseForm) -> Iterable[Problem]:
    if not form.errors:
        return
    for words in form.non_field_errors():
        yield Problem(str(words), "")
    for field in form:
        for words in field.errors:
            yield Problem(str(words), _anchor(field))


def _anchor(field: BoundField) -> str:
    """Return the id of the box to go to: of a date, the part that the error is about."""
    if not field.use_fieldset:
        return field.id_for_label or field.auto_id
    codes = [error.code for error in field.errors.as_data()]
    parts = [key for key, _ in getattr(field.field.widget, "parts", ())]
    place = next((parts.index(code) for code in codes if code in parts), 0)
    return f"{field.auto_id}_{place}"


@register.simple_tag
def plus_minus(field: BoundField) -> SafeString:
    """The ± of a number that was measured on the image; nothing for one that was typed."""
    text = getattr(field.form, "plus_minus", {}).get(field.name, "")
    return format_html('<span class="plus-minus">± {}</span>', text) if text else mark_safe("")


@register.filter
def boxes(field: BoundField) -> list[Box]:
    """Return the boxes of a date field, each with its own label."""
    widget = field.field.widget
    attrs = field.build_widget_attrs({"id": field.auto_id})
    context = widget.get_context(field.html_name, field.value(), attrs)
    labels = [label for _, label in widget.parts]
    return [
        Box(
            id=part["attrs"]["id"],
            label=label,
            html=mark_safe(field.form.renderer.render(part["template_name"], {"widget": part})),
        )
        for part, label in zip(context["widget"]["subwidgets"], labels, strict=True)
    ]


@register.filter
def companion(field: BoundField, kind: str) -> BoundField | None:
    """Return the box that belongs beside a field ("absent", "unlikely"), or None without one."""
    name = f"{field.name}_{kind}"
    return field.form[name] if name in field.form.fields else None


@register.filter
def question(field: BoundField) -> BoundField | None:
    """Return the answer box of an unlikely value, once the question was asked or answered."""
    answer = companion(field, "unlikely")
    if answer is None:
        return None
    asked = any(error.code == "unlikely" for error in field.errors.as_data())
    return answer if asked or answer.value() else None
