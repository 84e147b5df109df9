"""The filters of the worklist, and the urgency that a person sets."""

from django import forms

from planning.selectors.waiting import CLOCKS, STATES, URGENCIES
from register.domain.vocabulary import URGENCY
from register.forms.base import RegisterForm


class WaitingFilters(RegisterForm):
    """Codes only, so that the address holds nothing about a patient."""

    urgency = forms.ChoiceField(label="Urgency", choices=URGENCIES, required=False)
    clock = forms.ChoiceField(label="Clock", choices=CLOCKS, required=False)
    state = forms.ChoiceField(label="Decision", choices=STATES, required=False)

    def chosen(self) -> dict[str, str]:
        """The filters that are in use; an unknown code in the address counts as none."""
        self.is_valid()
        return {
            name: value
            for name in ("urgency", "clock", "state")
            if (value := self.cleaned_data.get(name))
        }


class UrgencyForm(RegisterForm):
    """How soon somebody must act; the first answer takes an urgency back."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    urgency = forms.ChoiceField(
        label="Urgency", choices=[("", "not set"), *URGENCY], required=False
    )
