"""A test, result or specimen that a named person must see."""

from typing import Any, ClassVar

from crispy_forms.layout import Row
from django import forms
from django.utils.timezone import localdate

from register.forms.base import RegisterForm, StrictMeta
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import EditForm, renew_version
from register.forms.layout import helper
from register.models import Task, User
from register.permissions import ROLE_RIGHTS
from register.services.editing import EditConflict

_SEEING = [role for role, rights in ROLE_RIGHTS.items() if "see_patients" in rights]


class TaskForm(EditForm):
    """What is to be seen, by whom, until when."""

    due_on = ThreeBoxDateField(label="Due", earliest=localdate, earliest_words="today")

    class Meta(StrictMeta):
        model = Task
        fields: ClassVar = ["kind", "title", "owner", "due_on"]
        labels: ClassVar = {"title": "What", "owner": "Who sees to it"}
        help_texts: ClassVar = {"title": "For example: histology of L1, taken on the 3rd"}

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        people: Any = self.fields["owner"]
        people.queryset = User.objects.filter(
            site=self.instance.patient.site, role__in=_SEEING, is_active=True
        ).order_by("last_name", "first_name", "pk")
        people.empty_label = "choose a person"
        self.helper = helper(
            self.key, Row("kind", "title"), Row("owner", "due_on"), save="Add the task", whose=whose
        )


class TaskCloseForm(RegisterForm):
    """What was done; nothing closes by itself."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    action_taken = forms.CharField(
        label="What was done",
        max_length=400,
        widget=forms.Textarea({"rows": 3}),
        help_text="For example: report read, no tumour; patient told by telephone.",
        error_messages={"required": "Say what was done."},
    )

    def __init__(self, *args: Any, whose: str, **options: Any) -> None:
        super().__init__(*args, **options)
        self.helper = helper("version", "action_taken", save="Close the task", whose=whose)

    def show_conflict(self, error: EditConflict) -> None:
        """Tell that somebody changed the task, and let the next press decide."""
        self.add_error(None, "Somebody changed this task meanwhile. Look at it, then decide again.")
        renew_version(self, error)
