"""Forms made from the models: strict fields, reasons for missing values, unlikely values."""

from datetime import date
from decimal import Decimal
from html.parser import HTMLParser

import pytest
from crispy_forms.utils import render_crispy_form
from django.template.loader import render_to_string

from register.domain.vocabulary import ABSENT
from register.forms.base import RegisterModelForm, StrictMeta, possible_range
from register.forms.choices import SeveralField, YesNoField
from register.forms.dates import KnownDate, ThreeBoxDateField
from register.forms.layout import Fieldset, helper
from register.forms.numbers import StrictDecimalField, StrictIntegerField
from register.models import Measurement, Referral
from register.templatetags.form_parts import errors_of


class MeasurementForm(RegisterModelForm):
    soft_limits = {"anterior_height_mm": (8, 40)}  # noqa: RUF012

    class Meta(StrictMeta):
        model = Measurement
        fields = ("measured_on", "posture", "anterior_height_mm", "depth_mm")

    def __init__(self, *args, **options):
        super().__init__(*args, **options)
        self.helper = helper(
            Fieldset("Film", "measured_on", "posture"),
            "anterior_height_mm",
            "depth_mm",
            save="Save heights",
            whose="{{ nav }}<b>, Maud",
        )

    def _post_clean(self):
        """No database here: the constraints of the model are tested elsewhere."""


class ReferralForm(RegisterModelForm):
    uncertain_dates = {"onset_on": "onset_precision"}  # noqa: RUF012

    class Meta(StrictMeta):
        model = Referral
        fields = ("onset_on", "onset_precision", "pain_rest", "takes_steroids", "infection_signs")

    def _post_clean(self):
        """No database here."""


def typed(**values):
    return {"measured_on_day": "2", "measured_on_month": "mar", "measured_on_year": "2027"} | values


def cleaned(**values):
    form = MeasurementForm(typed(**values))
    assert form.is_valid(), form.errors
    return form


# --- fields from the model -----------------------------------------------------


def test_columns_become_strict_fields_with_unit_and_range():
    fields = MeasurementForm().fields
    height = fields["anterior_height_mm"]
    assert isinstance(height, StrictDecimalField)
    assert (height.unit, height.decimal_places, height.label) == ("mm", 1, "Anterior height")
    assert (height.min_value, height.max_value) == (1, 60)
    assert isinstance(fields["measured_on"], ThreeBoxDateField)
    assert fields["measured_on"].required
    assert not height.required


def test_the_range_is_read_off_the_models_own_constraint():
    assert possible_range(Measurement, "depth_mm") == {"min_value": 10, "max_value": 60}
    assert possible_range(Measurement, "measured_on") == {}


def test_each_kind_of_column_has_its_own_question():
    fields = ReferralForm().fields
    assert isinstance(fields["pain_rest"], StrictIntegerField)
    assert isinstance(fields["takes_steroids"], YesNoField)
    assert isinstance(fields["infection_signs"], SeveralField)
    assert "onset_precision" not in fields


# --- reasons for missing values ------------------------------------------------


def test_blank_is_not_recorded_and_has_no_reason():
    form = cleaned()
    assert form.cleaned_data["anterior_height_mm"] is None
    assert form.cleaned_data["posture"] == ""
    assert form.cleaned_data["absent"] == {}


@pytest.mark.parametrize("reason", [code for code, _ in ABSENT])
def test_each_reason_is_stored_apart(reason):
    form = cleaned(depth_mm_absent=reason, posture=f"absent:{reason}")
    assert form.cleaned_data["absent"] == {"depth_mm": reason, "posture": reason}
    assert form.cleaned_data["posture"] == ""
    assert form.instance.absent == {"depth_mm": reason, "posture": reason}
    assert "depth_mm_absent" not in form.cleaned_data


def test_a_value_and_a_reason_together_are_refused():
    form = MeasurementForm(typed(depth_mm="34", depth_mm_absent="not_done"))
    assert form.errors["depth_mm"] == [
        "Depth: give the value, or the reason why there is none, not both."
    ]


def test_zero_is_a_value_beside_which_no_reason_can_stand():
    form = ReferralForm({"pain_rest": "0", "pain_rest_absent": "not_known"})
    assert "pain_rest" in form.errors


def test_reasons_of_fields_that_are_not_on_the_form_are_kept():
    stored = Measurement(absent={"width_mm": "not_done", "depth_mm": "declined"})
    form = MeasurementForm(typed(depth_mm="34"), instance=stored)
    assert form.is_valid()
    assert form.cleaned_data["absent"] == {"width_mm": "not_done"}


def test_stored_reasons_are_shown_again():
    stored = Measurement(absent={"posture": "not_known", "depth_mm": "declined"})
    form = MeasurementForm(instance=stored)
    assert form["posture"].value() == "absent:not_known"
    assert form["depth_mm_absent"].value() == "declined"


@pytest.mark.parametrize(
    ("answer", "value", "absent"),
    [("yes", True, {}), ("no", False, {}), ("", None, {})]
    + [(f"absent:{code}", None, {"takes_steroids": code}) for code, _ in ABSENT],
)
def test_yes_no_unanswered_and_four_reasons_are_seven_answers(answer, value, absent):
    form = ReferralForm({"takes_steroids": answer})
    assert form.is_valid(), form.errors
    assert form.cleaned_data["takes_steroids"] is value
    assert form.cleaned_data["absent"] == absent


def test_none_of_these_cannot_stand_beside_another_answer():
    form = ReferralForm({"infection_signs": ["fever", "none"]})
    assert "cannot stand beside another answer" in form.errors["infection_signs"][0]


# --- uncertain dates -----------------------------------------------------------


def test_an_uncertain_onset_is_stored_as_day_and_precision():
    form = ReferralForm({"onset_on_month": "feb", "onset_on_year": "2027"})
    assert form.is_valid(), form.errors
    assert form.cleaned_data["onset_on"] == date(2027, 2, 1)
    assert form.cleaned_data["onset_precision"] == "month"


def test_an_uncertain_onset_is_shown_as_it_is_known():
    stored = Referral(onset_on=date(2027, 2, 1), onset_precision="month")
    assert ReferralForm(instance=stored)["onset_on"].value() == KnownDate(date(2027, 2, 1), "month")
    assert (
        not ReferralForm(instance=stored)
        .fields["onset_on"]
        .has_changed(KnownDate(date(2027, 2, 1), "month"), ["", "Feb", "2027", False])
    )


def test_removing_the_onset_removes_its_precision():
    stored = Referral(onset_on=date(2027, 2, 1), onset_precision="month")
    form = ReferralForm({"onset_on_day": ""}, instance=stored)
    assert form.is_valid(), form.errors
    assert (form.cleaned_data["onset_on"], form.cleaned_data["onset_precision"]) == (None, "")


# --- unlikely values -----------------------------------------------------------


def test_an_unlikely_value_is_asked_about_with_what_was_typed_still_there():
    form = MeasurementForm(typed(anterior_height_mm="52"))
    assert form.errors["anterior_height_mm"] == [
        "Anterior height: 52 mm is unusual; most lie between 8 and 40 mm "
        "(common practice; confirm locally). Change it, or say beside it why it is right."
    ]
    html = render_crispy_form(form)
    assert 'value="52"' in html
    assert "Anterior height: why is this value right?" in html


def test_the_answer_lets_the_value_through_and_is_kept():
    form = cleaned(anterior_height_mm="52", anterior_height_mm_unlikely="Seen on CT too")
    assert form.cleaned_data["anterior_height_mm"] == Decimal("52")
    assert form.cleaned_data["unlikely"] == {"anterior_height_mm": "Seen on CT too"}


@pytest.mark.parametrize("value", ["8", "40", "25.5"])
def test_a_usual_value_raises_no_question(value):
    form = cleaned(anterior_height_mm=value, anterior_height_mm_unlikely="left over")
    assert form.cleaned_data["unlikely"] == {}
    page = render_crispy_form(MeasurementForm(typed(anterior_height_mm=value)))
    assert "why is this value right" not in page


@pytest.mark.parametrize("value", ["0.5", "61", "1,5"])
def test_the_impossible_is_refused_and_not_asked_about(value):
    form = MeasurementForm(
        typed(anterior_height_mm=value, anterior_height_mm_unlikely="Seen on CT too")
    )
    assert len(form.errors["anterior_height_mm"]) == 1
    assert "unusual" not in form.errors["anterior_height_mm"][0]
    assert "anterior_height_mm_unlikely" not in form.cleaned_data


# --- the pack ------------------------------------------------------------------


class Elements(HTMLParser):
    """Every element with its attributes."""

    def __init__(self, html):
        super().__init__()
        self.found = []
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.found.append((tag, dict(attrs)))

    def named(self, name):
        return next(attrs for _, attrs in self.found if attrs.get("name") == name)


@pytest.fixture
def wrong():
    return MeasurementForm(
        typed(measured_on_day="31", measured_on_month="feb", anterior_height_mm="15,5")
    )


def test_every_box_has_a_label_and_its_unit(wrong):
    html = render_crispy_form(MeasurementForm())
    elements = Elements(html).found
    labelled = {attrs.get("for") for tag, attrs in elements if tag == "label"}
    boxes = [a for tag, a in elements if tag in {"input", "select"} and a.get("type") != "hidden"]
    assert boxes
    assert {box["id"] for box in boxes} <= labelled
    assert 'Anterior height<span class="unseen">, in mm</span>' in html


def test_errors_are_tied_to_their_boxes(wrong):
    elements = Elements(render_crispy_form(wrong))
    box = elements.named("anterior_height_mm")
    assert box["aria-invalid"] == "true"
    assert "id_anterior_height_mm_error" in box["aria-describedby"]
    assert any(attrs.get("id") == "id_anterior_height_mm_error" for _, attrs in elements.found)
    assert box["value"] == "15,5"


def test_the_summary_says_the_same_words_and_leads_to_the_right_box(wrong):
    problems = errors_of(wrong)
    assert [problem.anchor for problem in problems] == ["id_measured_on_0", "id_anterior_height_mm"]
    ids = {attrs.get("id") for _, attrs in Elements(render_crispy_form(wrong)).found}
    assert {problem.anchor for problem in problems} <= ids
    html = render_crispy_form(wrong)
    assert all(problem.words in html for problem in problems)


def test_the_summary_goes_to_the_part_of_the_date_that_is_wrong():
    form = MeasurementForm(typed(measured_on_year="27"))
    assert [problem.anchor for problem in errors_of(form)] == ["id_measured_on_2"]


def test_a_page_with_errors_says_so_first_and_without_errors_says_nothing(wrong):
    page = render_to_string("base.html", {"form": wrong})
    assert "<title>Error: " in page
    assert page.index("Nothing was saved yet") < page.index("</main>")
    assert "Nothing was saved yet" not in render_to_string("base.html", {"form": MeasurementForm()})


def test_a_name_beside_the_button_is_text_and_never_template_or_markup():
    assert "for {{ nav }}&lt;b&gt;, Maud" in render_crispy_form(MeasurementForm())


def test_no_form_lets_the_browser_check_or_change_numbers(wrong):
    html = render_crispy_form(wrong)
    assert "novalidate" in html
    assert not any(word in html for word in ('type="number"', " required", "style=", "<script"))
