"""What every form page needs of crispy-forms: one helper and one button row."""

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Fieldset, Layout, Submit
from django.utils.html import format_html
from django.utils.safestring import SafeString

__all__ = ["Buttons", "Fieldset", "Save", "helper"]


class Save(Submit):
    """The button of a form. `wait` is what it says while the server works."""

    def __init__(
        self, words: str, name: str = "save", *, wait: str = "Saving…", serious: bool = False
    ) -> None:
        super().__init__(name, words, data_wait=wait)
        self.tone = "button--serious" if serious else ""


class Buttons:
    """The row under a form: its buttons, then whose record they write to.

    The name is repeated here so that a second patient in another tab is noticed.
    """

    def __init__(self, *buttons: Submit, whose: str = "") -> None:
        self.buttons, self.whose = buttons, whose

    def render(self, form: Any, context: Any, **options: Any) -> SafeString:
        """Return the row; the name is escaped and never read as a template."""
        drawn = [button.render(form, context, **options) for button in self.buttons]
        whose = format_html('<span class="form__whose">for {}</span>', self.whose)
        row = "{}" * len(drawn) + ("{}" if self.whose else "")
        parts = [*drawn, whose] if self.whose else drawn
        return format_html('<div class="form__buttons">' + row + "</div>", *parts)


def helper(*layout: Any, save: str | Save = "Save", whose: str = "") -> FormHelper:
    """Return the helper of a form: our attributes, the questions, the button row.

    `layout` are field names, Fieldset("Heights", "anterior_height_mm", …), Row(…).
    """
    made = FormHelper()
    made.form_class = "form"
    button = save if isinstance(save, Save) else Save(save)
    made.layout = Layout(*layout, Buttons(button, whose=whose))
    return made
