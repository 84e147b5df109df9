"""Blood tests and bone density: several days at one sitting, corrected one by one."""

from decimal import Decimal

import pytest
from django.urls import reverse

from register.history import acting
from register.history.reading import changes_of_row
from register.models import BoneDensity, LaboratoryResult, Patient
from tests.clock import stop_clock
from tests.factories import TODAY, make_patient
from tests.web.people import People, make_people


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people):
    return people.client("nurse")


@pytest.fixture
def patient(people) -> Patient:
    with acting("test"):
        return make_patient(people.site, family_name="Ashbeck", given_name="Maud")


@pytest.fixture
def address(patient) -> str:
    return reverse("laboratory-new", args=[patient.pk])


def day(name: str, text: str) -> dict[str, str]:
    boxes = zip(("day", "month", "year"), text.split(), strict=True)
    return {f"{name}_{part}": typed for part, typed in boxes}


def typed(*parts: dict[str, str]) -> dict[str, str]:
    """What the page sends: three blood tests and two bone densities, most of them blank."""
    sent = {
        "blood-TOTAL_FORMS": "3", "blood-INITIAL_FORMS": "0",
        "bones-TOTAL_FORMS": "2", "bones-INITIAL_FORMS": "0",
    }  # fmt: skip
    for part in parts:
        sent |= part
    return sent


def blood(place: int, taken_on: str, **values: str) -> dict[str, str]:
    named = {f"blood-{place}-{name}": value for name, value in values.items()}
    return day(f"blood-{place}-taken_on", taken_on) | named


def bone(place: int, measured_on: str, **values: str) -> dict[str, str]:
    named = {f"bones-{place}-{name}": value for name, value in values.items()}
    return day(f"bones-{place}-measured_on", measured_on) | named


def test_two_blood_tests_and_a_bone_density_are_saved_in_one_go(nurse, patient, address):
    answer = nurse.post(
        address,
        typed(
            blood(0, "3 Mar 2027", inr="1.1", crp="0"),
            blood(1, "24 feb 2027", crp="12"),
            bone(0, "3 3 2027", t_score="-2.0", site="hip"),
        ),
    )
    assert answer.status_code == 302
    stored = LaboratoryResult.objects.order_by("taken_on", "analyte")
    assert [(str(r.taken_on), r.analyte, r.value, r.unit) for r in stored] == [
        ("2027-02-24", "crp", Decimal("12.00"), "mg/L"),
        ("2027-03-03", "crp", Decimal("0.00"), "mg/L"),
        ("2027-03-03", "inr", Decimal("1.10"), "ratio"),
    ]
    assert str(BoneDensity.objects.get().t_score) == "-2.0"


def test_a_value_that_stands_there_already_is_not_repeated(nurse, address):
    sent = typed(blood(0, "3 Mar 2027", inr="1.1"))
    nurse.post(address, sent)
    nurse.post(address, sent)
    assert LaboratoryResult.objects.count() == 1


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        ([], "Nothing was typed or changed."),
        ([blood(0, "3 Mar 2027")], "Enter at least one value of this day, or empty its date."),
        ([{"blood-1-inr": "1.1"}], "enter the day on which it was taken"),
        ([blood(0, "3 Mar 2027", inr="0.2")], "INR must be from 0.5 to 20"),
        ([blood(0, "3 Mar 2027", inr="1.1.1")], "one point only"),
        ([blood(2, "3 Mar 2027", platelets="20")], "20 ×10⁹/L is unusual"),
        ([blood(0, "8 Mar 2027", inr="1.1")], "on or before 07 Mar 2027 (today)"),
        ([blood(0, "13 May 1942", inr="1.1")], "on or after 14 May 1942 (the date of birth)"),
        ([bone(0, "3 Mar 2027", t_score="-2.0")], "Say where the T-score was measured."),
        ([bone(0, "3 Mar 2027", attenuation_hu="90")], "Say at which level"),
        ([bone(0, "3 Mar 2027")], "Give a T-score or the attenuation"),
    ],
)
def test_what_is_odd_or_lacks_something_saves_nothing(nurse, address, parts, words):
    answer = nurse.post(address, typed(*parts))
    text = answer.content.decode()
    assert answer.status_code == 422
    assert words in text
    assert LaboratoryResult.objects.count() == BoneDensity.objects.count() == 0


def test_the_reason_for_an_unlikely_value_stays_with_that_value_and_is_shown(nurse, address):
    odd = blood(0, "3 Mar 2027", inr="1.1", platelets="20", platelets_unlikely="counted twice")
    assert nurse.post(address, typed(odd)).status_code == 302
    reasons = dict(LaboratoryResult.objects.values_list("analyte", "unusual"))
    assert reasons == {"inr": {}, "platelets": {"value": "counted twice"}}
    assert "unusual: counted twice" in nurse.get(address).content.decode()


def test_recorded_values_stand_as_tests_and_days_and_a_gap_says_so(nurse, address):
    nurse.post(
        address,
        typed(blood(0, "3 Mar 2027", inr="1.10"), blood(1, "1 Mar 2027", inr="1.3", crp="250")),
    )
    text = nurse.get(address).content.decode()
    assert text.index("03 Mar 2027") < text.index("01 Mar 2027")
    assert ">250<" in text
    assert text.count("not tested") == 1


def test_a_mistyped_value_is_corrected_and_the_former_one_stays_in_the_history(nurse, address):
    nurse.post(address, typed(blood(0, "3 Mar 2027", inr="2.1")))
    result = LaboratoryResult.objects.get()
    edit = reverse("laboratory-edit", args=[result.pk])
    assert "Recorded: 2.1 ratio" in nurse.get(edit).content.decode()
    sent = day("taken_on", "3 Mar 2027") | {"version": "1", "value": "1.2"}
    assert nurse.post(edit, sent | {"value": "12,0"}).status_code == 422
    assert nurse.post(edit, sent).url == address
    result.refresh_from_db()
    assert result.value == Decimal("1.20")
    assert [change.reason for change in changes_of_row(result)][-1] == "INR corrected"


def test_two_people_who_correct_one_value_see_both(people, nurse, address):
    nurse.post(address, typed(blood(0, "3 Mar 2027", inr="2.1")))
    edit = reverse("laboratory-edit", args=[LaboratoryResult.objects.get().pk])
    sent = day("taken_on", "3 Mar 2027") | {"version": "1"}
    people.client("consultant").post(edit, sent | {"value": "1.3"})
    answer = nurse.post(edit, sent | {"value": "1.2"})
    assert answer.status_code == 422
    assert "<td>1.3</td><td>1.2</td>" in answer.content.decode()
    assert "take what is recorded now: 1.3<" in answer.content.decode()


def test_a_bone_density_is_changed_and_removed_on_its_line(nurse, address):
    nurse.post(address, typed(bone(0, "3 Mar 2027", t_score="-2.0", site="hip")))
    row = BoneDensity.objects.get()
    line = {"bones-TOTAL_FORMS": "3", "bones-INITIAL_FORMS": "1"}
    key = {"bones-0-id": str(row.pk), "bones-0-version": "1"}
    changed = bone(0, "3 Mar 2027", t_score="-2.4", site="hip")
    assert nurse.post(address, typed(line, key, changed)).status_code == 302
    row.refresh_from_db()
    assert str(row.t_score) == "-2.4"
    gone = key | {"bones-0-version": "2", "bones-0-remove": "on"}
    assert nurse.post(address, typed(line, changed, gone)).status_code == 302
    assert not BoneDensity.objects.live().exists()


def test_results_of_another_site_are_not_there(nurse, address):
    nurse.post(address, typed(blood(0, "3 Mar 2027", inr="2.1")))
    edit = reverse("laboratory-edit", args=[LaboratoryResult.objects.get().pk])
    with acting("test"):
        other = make_people().client("nurse")
    assert other.get(edit).status_code == other.post(edit).status_code == 404
