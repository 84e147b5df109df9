"""Lists inside a form: telephones, drugs, levels. Each line is a record of its own."""

from collections.abc import Iterable
from typing import Any, ClassVar

from crispy_forms.layout import Row
from django import forms
from django.forms.formsets import BaseFormSet, formset_factory
from django.template.loader import render_to_string
from django.utils.safestring import SafeString

from register.forms.editing import PartForm, questions
from register.forms.life import within_life
from register.models import Patient
from register.models.base import Record

GONE = "This line was removed by somebody else. Load the page again."


class RowForm(PartForm):
    """One line, which can be removed when its record exists."""

    remove = forms.BooleanField(label="Remove", required=False)
    can_be_removed: ClassVar[bool] = True
    boxes: ClassVar[tuple[str, ...]] = ()

    def __init__(
        self, *args: Any, is_gone: bool = False, patient: Patient | None = None, **options: Any
    ) -> None:
        super().__init__(*args, **options)
        self.is_gone = is_gone
        if patient is not None:
            within_life(self, patient)
        self.needed = [name for name, field in self.fields.items() if field.required]
        if self.empty_permitted:  # a blank line needs nothing until something is typed in it
            for name in self.needed:
                self.fields[name].required = False
        if self.instance.pk is None or not self.can_be_removed:
            del self.fields["remove"]
        last = ["remove"] if "remove" in self.fields else []
        self.helper = questions("id", "version", Row(*self.boxes, *last, css_class="row--line"))

    def clean(self) -> dict[str, Any]:
        """Refuse a line whose record is gone, or that lacks what a filled line needs."""
        cleaned = super().clean()
        for name in self.needed:
            if not cleaned.get(name) and name not in self.errors:
                self.add_error(name, f"{self.fields[name].label}: fill it in, or empty the line.")
        if self.is_gone:
            self.add_error(None, GONE)
        return cleaned

    def values(self) -> dict[str, Any]:
        """Return what the service wants of this line."""
        return super().values() | {"remove": bool(self.cleaned_data.get("remove"))}


class RowsFormSet(BaseFormSet):
    """Lines of existing records first, then blank ones. Lines find their record by its id.

    With `patient` the dates of every line lie within that person's life.
    """

    def __init__(
        self,
        *args: Any,
        instances: Iterable[Record] = (),
        patient: Patient | None = None,
        **options: Any,
    ) -> None:
        self.instances = list(instances)
        if patient is not None:
            options["form_kwargs"] = {"patient": patient}
        options["initial"] = [{} for _ in self.instances]
        super().__init__(*args, **options)

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        """Give each line its record; a posted id that is not there is told as gone."""
        given: dict[str, Any] = super().get_form_kwargs(index)
        if index is None:
            return given
        if not self.is_bound:
            there = self.instances[index] if index < len(self.instances) else None
            return given | {"instance": there}
        posted = self.data.get(f"{self.prefix}-{index}-id", "")
        there = next((row for row in self.instances if str(row.pk) == posted), None)
        return given | {"instance": there, "is_gone": bool(posted) and there is None}

    def values(self) -> list[dict[str, Any]]:
        """Return the lines that were filled in or changed."""
        return [form.values() for form in self.forms if form.has_changed()]

    def filled(self) -> int:
        """Return how many lines will stand in the list after saving."""
        return sum(
            not form.cleaned_data.get("remove", False)
            for form in self.forms
            if form.instance.pk is not None or form.has_changed()
        )


class Lines:
    """The place of a list inside the layout of the page's form.

    `name` is the formset's name in the page's context.
    """

    template = "register/lines.html"

    def __init__(self, name: str) -> None:
        self.name = name

    def render(self, form: Any, context: Any, **options: Any) -> SafeString:
        """Return the management boxes and every line."""
        return render_to_string(self.template, {"formset": context[self.name]})


def rows_formset(form: type[RowForm], *, extra: int, most: int = 20) -> type[RowsFormSet]:
    """Return the formset of a line form with `extra` blank lines."""
    made: type[Any] = formset_factory(
        form, formset=RowsFormSet, extra=extra, max_num=most, absolute_max=most
    )
    return made
