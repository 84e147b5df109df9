"""Forms that change a record: the version that was read, and both values after a conflict."""

from typing import Any, ClassVar

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Layout
from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import cached_property

from register.forms.base import RegisterForm, RegisterModelForm
from register.forms.conflicts import TakesRecorded, tell_conflict
from register.forms.layout import Save, helper
from register.services.editing import EditConflict
from register.services.receipts import form_token


def questions(*layout: Any) -> FormHelper:
    """Return the helper of a part of a page's form: questions only, no tag and no button."""
    made = FormHelper()
    made.form_tag = False
    made.disable_csrf = True
    made.layout = Layout(*layout)
    return made


class Edited(TakesRecorded, RegisterModelForm):
    """A model form that can tell both values when somebody else was faster."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.recorded_version = self.instance.version
        for field in self.fields.values():
            if "required" in field.error_messages:
                ask = "choose an answer" if isinstance(field, forms.ChoiceField) else "fill it in"
                field.error_messages["required"] = f"{field.label}: {ask}."

    @property
    def expected_version(self) -> int:
        """The version that the person read; 0, which no record has, when it did not come back."""
        return int(self.cleaned_data.get("version") or 0)

    def values(self) -> dict[str, Any]:
        """Return the record's fields as typed, by column, the reasons for empty ones included."""
        columns = {field.name for field in self.instance._meta.concrete_fields} - {"version", "id"}
        return {name: value for name, value in self.cleaned_data.items() if name in columns}

    def show_conflict(self, error: EditConflict) -> None:
        """Tell both values, keep what was typed, and let the next save decide knowingly."""
        self.add_error(None, str(error))
        self.conflict = tell_conflict(self, error)
        renew_version(self, error)


class EditForm(Edited):
    """The form of a record, whose page carries the version that the person read.

    The form of a new record carries a one-time token instead, so that a second
    press makes nothing twice.
    """

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    # Whether a change of what was recorded may be given a reason.
    may_say_why: ClassVar[bool] = False

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        if self.instance.pk is None:
            self.fields["token"] = forms.CharField(
                widget=forms.HiddenInput, required=False, max_length=64, initial=form_token()
            )
        elif self.may_say_why:
            self.fields["why"] = forms.CharField(
                label="Why it changes",
                help_text="If it needs saying; it stands in the history beside the change.",
                required=False,
                max_length=200,
            )
        self.fields["version"].initial = self.instance.version

    @property
    def why(self) -> str:
        """The reason that was given for the change; blank for none."""
        return str(self.cleaned_data.get("why", ""))

    @property
    def asks_why(self) -> tuple[str, ...]:
        """The box for the reason, for the end of a layout; nothing for a new record."""
        return ("why",) if "why" in self.fields else ()

    @property
    def key(self) -> str:
        """The hidden box that belongs on the page: the token of a new record, else the version."""
        return "token" if "token" in self.fields else "version"


class PartForm(Edited):
    """A part of a larger record, with its own id and version; blank for a new one."""

    id = forms.IntegerField(widget=forms.HiddenInput, required=False)
    version = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        exists = self.instance.pk is not None
        self.fields["id"].initial = self.instance.pk
        self.fields["version"].initial = self.instance.version if exists else None

    @cached_property
    def changed_data(self) -> list[str]:
        """The boxes that were changed; that somebody else saved the part is no change of ours."""
        return [name for name in super().changed_data if name not in ("id", "version")]

    def values(self) -> dict[str, Any]:
        """Return what the service wants of this part, id and version included."""
        own = {name: self.cleaned_data.get(name) for name in ("id", "version")}
        return super().values() | own


def renew_version(form: forms.BaseForm, error: EditConflict) -> None:
    """Give the form the version that stands now, so that the next save is a decision."""
    data: Any = form.data
    data = data.copy()
    data[form.add_prefix("version")] = str(error.version)
    form.data = data


def tell_problems(form: forms.BaseForm, error: ValidationError) -> None:
    """Put what the register refused beside its boxes, or on top of the form."""
    if not hasattr(error, "error_dict"):
        form.add_error(None, error)
        return
    for name, problems in error.error_dict.items():
        form.add_error(name if name in form.fields else None, problems)


class AsideForm(RegisterForm):
    """Why an entry is set aside, on a page of its own."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why",
        max_length=300,
        help_text="For example: entered for the wrong level.",
        error_messages={"required": "Say why it is set aside."},
    )

    def __init__(self, *args: Any, words: str, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        save = Save(words, wait="Setting it aside…", serious=True)
        self.helper = helper("version", "reason", save=save, whose=whose)

    def show_conflict(self, error: EditConflict) -> None:
        """Tell that somebody changed the entry, and let the next press decide."""
        self.add_error(
            None, "Somebody changed this entry meanwhile. Look at it, then decide again."
        )
        renew_version(self, error)
