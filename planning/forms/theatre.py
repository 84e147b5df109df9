"""Forms of theatre sessions and lists."""

from typing import Any

from django import forms
from django.db.models import QuerySet

from planning.forms.base import RecordForm, clock_time, label_list, offer, yes_no
from planning.models import ProcedurePlan
from register.forms.dates import ThreeBoxDateField
from register.forms.numbers import StrictIntegerField
from register.models import Site, User


class SessionForm(RecordForm):
    """One stretch of theatre time."""

    held_on = ThreeBoxDateField(label="Date")
    starts_at = clock_time("Starts at", help_text="For example 08:30")
    minutes = StrictIntegerField(label="Length", unit="minutes", min_value=30, max_value=720)
    room = forms.CharField(label="Room", max_length=60, required=False)
    consultant = forms.ModelChoiceField(
        User.objects.none(), label="Consultant", required=False, empty_label="not chosen yet"
    )
    anaesthetist = yes_no("Anaesthetist present")
    image_intensifiers = StrictIntegerField(
        label="Image intensifiers", min_value=0, max_value=4, required=False
    )
    beds = StrictIntegerField(label="Beds", min_value=0, max_value=40, required=False)
    people = forms.CharField(label="People", max_length=300, required=False)
    note = forms.CharField(label="Note", max_length=300, required=False)
    cancelled_reason = forms.CharField(
        label="Cancelled because",
        max_length=200,
        required=False,
        help_text="Leave empty unless the session does not take place.",
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = User.objects.filter(site=site, role="consultant", is_active=True)
        offer(self, "consultant", people.order_by("last_name", "pk"))
        if self.instance is None:
            del self.fields["cancelled_reason"]


class PlanChoice(forms.ModelChoiceField):
    """An approved plan by patient, levels, technique and minutes."""

    def label_from_instance(self, plan: Any) -> str:
        levels = label_list(
            level.fracture.level for level in plan.levels.all() if level.voided_at is None
        )
        return f"{plan.patient}: {levels}, {plan.technique}, {plan.expected_minutes} minutes"


class ListPlanForm(forms.Form):
    """Put an approved plan on the list."""

    plan = PlanChoice(
        ProcedurePlan.objects.none(),
        label="Approved plan",
        empty_label="choose a plan",
        error_messages={
            "required": "Choose the plan that is to be listed.",
            "invalid_choice": "This plan was listed meanwhile. Choose another one.",
        },
    )
    minutes = StrictIntegerField(
        label="Minutes",
        unit="minutes",
        min_value=5,
        max_value=600,
        required=False,
        help_text="Leave empty to take the minutes of the plan.",
    )

    def __init__(self, *args: Any, plans: QuerySet[ProcedurePlan], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "plan", plans)


class CancelEntryForm(forms.Form):
    """Why a case is taken off its list."""

    reason = forms.CharField(
        label="Reason",
        max_length=200,
        error_messages={"required": "Say why the case is taken off the list."},
    )
