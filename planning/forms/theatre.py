"""Forms of theatre sessions and lists."""

from collections.abc import Collection
from datetime import timedelta
from typing import Any, ClassVar

from crispy_forms.layout import Fieldset, Row
from django import forms
from django.db.models import QuerySet
from django.utils.timezone import localdate

from planning.forms.base import label_list, offer
from planning.models import ListEntry, ProcedurePlan, TheatreSession
from register.domain.days import day_words
from register.domain.usual import USUAL
from register.forms.base import RegisterForm, StrictMeta, possible_range
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import EditForm, questions
from register.forms.filters import FilterForm
from register.forms.numbers import StrictIntegerField
from register.models import Site, User

AHEAD = timedelta(days=2 * 365)  # a later day is a mistyped year; common sense, no source


class SessionFilter(FilterForm):
    """Which sessions are shown."""

    past = forms.ChoiceField(
        label="Sessions", required=False, choices=[("", "coming"), ("1", "past")]
    )


class SessionForm(EditForm):
    """One stretch of theatre time."""

    held_on = ThreeBoxDateField(
        label="Date", latest=lambda: localdate() + AHEAD, latest_words="two years ahead"
    )

    class Meta(StrictMeta):
        model = TheatreSession
        fields: ClassVar = [
            "held_on", "starts_at", "minutes", "room", "consultant", "anaesthetist",
            "image_intensifiers", "beds", "people", "note", "cancelled_reason",
        ]  # fmt: skip
        labels: ClassVar = {
            "minutes": "Length",
            "anaesthetist": "Anaesthetist present",
            "beds": "Beds booked",
            "people": "Who else is there",
            "cancelled_reason": "Cancelled because",
        }
        help_texts: ClassVar = {
            "starts_at": "For example 08:30",
            "cancelled_reason": "Leave empty unless the session does not take place.",
        }
        widgets: ClassVar = {"anaesthetist": forms.Select}

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        people = User.objects.filter(site=site, role="consultant", is_active=True)
        offer(self, "consultant", people.order_by("last_name", "pk"))
        consultant: Any = self.fields["consultant"]
        consultant.empty_label = "not chosen yet"
        end = [Fieldset("End", "cancelled_reason")]
        if self.instance.pk is None:
            del self.fields["cancelled_reason"]
            end = []
        self.helper = questions(
            self.key,
            Fieldset("When and where", Row("held_on", "starts_at", "minutes"), "room"),
            Fieldset("Who and with what", Row("consultant", "anaesthetist"), "people"),
            Row("image_intensifiers", "beds"),
            "note",
            *end,
        )


class PlanChoice(forms.ModelChoiceField):
    """An approved plan by patient, levels, technique and minutes."""

    similar: Collection[int] = ()  # ids of patients whose name resembles another's

    def label_from_instance(self, plan: Any) -> str:
        levels = label_list(
            level.fracture.level for level in plan.levels.all() if level.voided_at is None
        )
        born = f"born {day_words(plan.patient.date_of_birth)}"
        mark = ", SIMILAR NAME" if plan.patient_id in self.similar else ""
        how_long = f"{plan.technique}, {plan.expected_minutes} minutes"
        return f"{plan.patient}, {born}{mark}: {levels}, {how_long}"


_USUAL = USUAL["ListEntry", "minutes"]


class ListPlanForm(RegisterForm):
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
        **possible_range(ListEntry, "minutes"),
        soft_min=_USUAL[0],
        soft_max=_USUAL[1],
        required=False,
        help_text="Leave empty to take the minutes of the plan.",
    )

    def __init__(
        self,
        *args: Any,
        plans: QuerySet[ProcedurePlan],
        similar: Collection[int] = (),
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        offer(self, "plan", plans)
        choice: Any = self.fields["plan"]
        choice.similar = similar


class CancelEntryForm(RegisterForm):
    """Why a case is taken off its list."""

    reason = forms.CharField(
        label="Reason",
        max_length=200,
        error_messages={"required": "Say why the case is taken off the list."},
    )
