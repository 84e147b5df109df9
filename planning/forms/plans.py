"""Forms of the procedure plan."""

from collections.abc import Sequence
from typing import Any, ClassVar

from crispy_forms.layout import Row
from django import forms
from django.db.models import QuerySet

from planning.forms.base import offer
from planning.models import Decision, PlannedLevel, ProcedurePlan
from register.domain.vocabulary import ROUTE, words_for
from register.forms.base import RegisterForm, StrictMeta
from register.forms.editing import EditForm, questions
from register.models import Fracture, Site, Technique


class PlanStartForm(RegisterForm):
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
        self, *args: Any, site: Site, decided: Sequence[tuple[Fracture, Decision]], **options: Any
    ) -> None:
        super().__init__(*args, **options)
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


class PlanForm(EditForm):
    """How the whole session of one patient is to run."""

    class Meta(StrictMeta):
        model = ProcedurePlan
        fields: ClassVar = [
            "technique", "anaesthesia", "position", "expected_minutes", "antibiotic",
            "drugs_note", "imaging_note", "note",
        ]  # fmt: skip
        labels: ClassVar = {
            "expected_minutes": "Expected length",
            "drugs_note": "Drugs to stop",
            "imaging_note": "Imaging in theatre",
        }
        help_texts: ClassVar = {
            "antibiotic": "Generic name and dose",
            "drugs_note": "Dates come only from the table your department approved; "
            "none is printed here.",
        }
        widgets: ClassVar = {
            "drugs_note": forms.Textarea({"rows": 2}),
            "note": forms.Textarea({"rows": 2}),
        }

    def __init__(self, *args: Any, site: Site, **options: Any) -> None:
        super().__init__(*args, **options)
        offer(self, "technique", _in_use(site))
        self.helper = questions(
            self.key,
            Row("technique", "anaesthesia", "position", "expected_minutes"),
            Row("antibiotic", "imaging_note"),
            "drugs_note",
            "note",
        )


class PlannedLevelForm(EditForm):
    """How one level is to be treated."""

    class Meta(StrictMeta):
        model = PlannedLevel
        fields: ClassVar = [
            "side", "approach", "biopsy", "implant_count", "implant_size_label", "viscosity",
            "cement_ml",
        ]  # fmt: skip
        labels: ClassVar = {
            "biopsy": "Biopsy at the same sitting",
            "implant_count": "Implants",
            "implant_size_label": "Implant size",
            "viscosity": "Cement viscosity",
            "cement_ml": "Cement, orientation",
        }
        help_texts: ClassVar = {
            "cement_ml": "An orientation, not a target. Stop at the first sign of a leak.",
        }
        widgets: ClassVar = {
            "biopsy": forms.Select,
            "implant_size_label": forms.TextInput({"class": "box--short"}),
        }

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self.helper = questions(
            self.key,
            Row("side", "approach", "biopsy"),
            Row("implant_count", "implant_size_label", "viscosity", "cement_ml"),
        )


class ReasonForm(RegisterForm):
    """One reason."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    reason = forms.CharField(
        label="Reason", max_length=200, error_messages={"required": "Say why."}
    )


def _in_use(site: Site) -> QuerySet[Technique]:
    return Technique.objects.live().filter(site=site, withdrawn_on=None)
