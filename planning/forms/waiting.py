"""The filters of the worklist, and the urgency that a person sets."""

from django import forms

from planning.selectors.waiting import CLOCKS, STATES, URGENCIES
from register.domain.vocabulary import URGENCY
from register.forms.base import RegisterForm
from register.forms.filters import FilterForm


class WaitingFilters(FilterForm):
    """What of the worklist is shown."""

    urgency = forms.ChoiceField(label="Urgency", choices=URGENCIES, required=False)
    clock = forms.ChoiceField(label="Clock", choices=CLOCKS, required=False)
    state = forms.ChoiceField(label="Decision", choices=STATES, required=False)


class UrgencyForm(RegisterForm):
    """How soon somebody must act; the first answer takes an urgency back."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    urgency = forms.ChoiceField(
        label="Urgency", choices=[("", "not set"), *URGENCY], required=False
    )
