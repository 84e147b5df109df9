"""Forms of the procedure plan."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.db.models import QuerySet

from planning.forms.base import RecordForm, offer, select, yes_no
from planning.models import Decision
from register.domain.vocabulary import (
    ANAESTHESIA,
    APPROACH,
    POSTURE,
    ROUTE,
    SIDE,
    VISCOSITY,
    words_for,
)
from register.forms.numbers import StrictDecimalField, StrictIntegerField
from register.models import Fracture, Site, Technique


class PlanStartForm(forms.Form):
    """Which fractures, by which technique."""

    fractures = forms.MultipleChoiceField(
        label="Levels of this plan",
        widget=forms.CheckboxSelectMultiple,
        error_messages={"required": "Choose at least one level."},
    )
    technique = forms.ModelChoiceField(
        Technique.objects.none(),
        label="Technique",
        empty_label="choose a technique",
        error_messages={"required": "Choose the technique."},
    )

    def __init__(
        self, *args: Any, site: Site, decided: Sequence[tuple[Fracture, Decision]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.decided = {str(fracture.pk): fracture for fracture, _ in decided}
        levels = [
            (fracture.pk, f"{fracture.level}: {words_for(ROUTE, decision.route)}")
            for fracture, decision in decided
        ]
        offer(self, "fractures", levels)
        offer(self, "technique", _in_use(site))

    def chosen(self) -> list[Fracture]:
        """The fractures that were ticked."""
        return [self.decided[key] for key in self.cleaned_data["fractures"]]


class PlanForm(RecordForm):
    """How the whole session of one patient is to run."""

    technique = forms.ModelChoiceField(Technique.objects.none(), label="Technique")
    anaesthesia = select(ANAESTHESIA, "Anaesthesia")
    position = select(POSTURE, "Position")
    expected_minutes = StrictIntegerField(
        label="Expected length", unit="minutes", min_value=5, max_value=600, required=False
    )
    antibiotic = forms.CharField(
        label="Antibiotic", max_length=120, required=False, help_text="Generic name and dose"
    )
    drugs_note = forms.CharField(
        label="Drugs to stop",
        max_length=400,
        required=False,
        help_text="Dates come only from the table your department approved; none is printed here.",
    )
    imaging_note = forms.CharField(label="Imaging in theatre", max_length=200, required=False)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "technique", _in_use(site))


class PlannedLevelForm(RecordForm):
    """How one level is to be treated."""

    side = select(SIDE, "Side")
    approach = select(APPROACH, "Approach")
    biopsy = yes_no("Biopsy at the same sitting")
    implant_count = StrictIntegerField(
        label="Implants", unit="implants", min_value=0, max_value=4, required=False
    )
    implant_size_label = forms.CharField(label="Implant size", max_length=40, required=False)
    viscosity = select(VISCOSITY, "Cement viscosity")
    cement_ml = StrictDecimalField(
        label="Cement, orientation",
        unit="mL",
        min_value=0,
        max_value=20,
        decimal_places=1,
        max_digits=4,
        required=False,
        help_text="An orientation, not a target. Stop at the first sign of a leak.",
    )


class ReasonForm(forms.Form):
    """One reason."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    reason = forms.CharField(
        label="Reason", max_length=200, error_messages={"required": "Say why."}
    )


def _in_use(site: Site) -> QuerySet[Technique]:
    return Technique.objects.live().filter(site=site, withdrawn_on=None)
