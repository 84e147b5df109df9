"""What the team chose, and why."""

from typing import Any, cast

from django import forms
from django.http import QueryDict
from django.utils.timezone import localdate

from planning.models import Assessment, Decision
from planning.services.decisions import rules_against
from register.domain.clock import onset_range
from register.domain.days import known_words
from register.domain.vocabulary import ROUTE
from register.forms.base import RegisterForm
from register.forms.dates import ThreeBoxDateField
from register.models import Fracture, User
from register.permissions import ROLE_RIGHTS

_DECIDING = [role for role, rights in ROLE_RIGHTS.items() if "decide" in rights]


class DecisionForm(RegisterForm):
    """One decision. A route that goes against the assessment says so in its own words."""

    version = forms.IntegerField(widget=forms.HiddenInput, required=False)
    assessment = forms.IntegerField(widget=forms.HiddenInput, required=False)
    route = forms.ChoiceField(
        label="Decision",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose what was decided."},
    )
    reason = forms.CharField(
        label="Reason",
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=Decision._meta.get_field("reason").max_length,
        help_text="In your own words. It is kept with the decision and read in the audit.",
        error_messages={"required": "Give the reason for this decision."},
    )
    decided_on = ThreeBoxDateField(label="Decided on", latest=localdate, latest_words="today")
    second_name = forms.ModelChoiceField(
        User.objects.none(),
        label="Second name",
        required=False,
        empty_label="nobody",
        help_text="Another consultant who agrees; needed where the decision goes against "
        "what the assessment says.",
    )
    team_meeting_on = ThreeBoxDateField(
        label="Team meeting", required=False, latest=localdate, latest_words="today"
    )
    team_present = forms.CharField(label="Present at the meeting", max_length=300, required=False)

    def __init__(
        self,
        *args: Any,
        fracture: Fracture,
        assessment: Assessment | None,
        user: User,
        **options: Any,
    ) -> None:
        options["initial"] = {
            "version": fracture.version,
            "assessment": assessment.pk if assessment else None,
            "decided_on": localdate(),
        } | options.get("initial", {})
        super().__init__(*args, **options)
        self.shown = assessment
        self._since_onset(fracture)
        route = cast(forms.ChoiceField, self.fields["route"])
        route.choices = [(code, _route_words(words, assessment, code)) for code, words in ROUTE]
        second_name = cast(forms.ModelChoiceField, self.fields["second_name"])
        second_name.queryset = (
            User.objects.filter(site=user.site, role__in=_DECIDING, is_active=True)
            .exclude(pk=user.pk)
            .order_by("last_name", "first_name", "pk")
        )

    def _since_onset(self, fracture: Fracture) -> None:
        """A fracture is not decided on before it began, or before the patient was born."""
        onset, precision = fracture.onset_on, fracture.onset_precision
        if onset is None:
            onset, words = fracture.patient.date_of_birth, "the date of birth"
        elif precision in ("", "day"):
            words = "the day on which the fracture began"
        else:
            words = f"the fracture began {known_words(onset, precision)}"
            onset, _ = onset_range(onset, precision)
        for name in ("decided_on", "team_meeting_on"):
            day: Any = self.fields[name]
            day.bound(earliest=onset, earliest_words=words)

    def clean(self) -> dict[str, Any]:
        """Refuse a decision on an assessment that was replaced while the page was open."""
        cleaned = super().clean()
        shown = self.shown.pk if self.shown else None
        if cleaned.get("assessment") != shown:
            raise forms.ValidationError(
                "The fracture was assessed again while you had this page open. Read the newer "
                "assessment above, then save."
            )
        return cleaned

    def values(self) -> dict[str, Any]:
        """The keyword arguments of the service."""
        names = (
            "route", "reason", "decided_on", "second_name", "team_meeting_on", "team_present"
        )  # fmt: skip
        return {name: self.cleaned_data[name] for name in names} | {
            "assessment": self.shown,
            "expected_version": self.cleaned_data["version"] or 0,
        }

    def show_newest(self, **hidden: Any) -> None:
        """Let the next save rest on what is shown now; what was typed stays."""
        data = cast(QueryDict, self.data).copy()
        for name, value in hidden.items():
            data[self.add_prefix(name)] = "" if value is None else str(value)
        self.data = data


def _route_words(words: str, assessment: Assessment | None, code: str) -> str:
    """A route that goes against the assessment says so; the reasons stand beside the form."""
    against = rules_against(assessment, code)
    return f"{words} (speaks against it, needs a second name)" if against else words
