"""Referral files about patients whom the register knows already."""

from datetime import date, timedelta
from decimal import Decimal

import pytest

from register.history import acting
from register.models import Fracture, LaboratoryResult, Referral
from register.services.editing import update_row
from register.services.transfers import records_merge
from tests.factories import make_fracture, make_patient, make_referral, make_site, make_user
from tests.integration.import_steps import confirm, keep, known_patient, look, only_verdict
from tests.referral_files import CELLS, NHS, NHS_2, TODAY, TRUTH, changed, written

pytestmark = pytest.mark.django_db


@pytest.fixture
def nurse(db):
    with acting("test"):
        return make_user(make_site(), "nurse")


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        (
            {"date_of_birth": date(1942, 5, 12)},
            "the file says 11 May 1942, the register 12 May 1942",
        ),
        ({"family_name": "Zoebeck"}, "the file says Zoëbeck, the register Zoebeck"),
        ({"given_name": "Mabel"}, "the file says Maud, the register Mabel"),
        ({"hospital_number": "H7"}, "the file says H00104711, the register H7"),
        ({"nhs_number": NHS_2}, f"the register {NHS_2[:3]} {NHS_2[3:6]} {NHS_2[6:]}"),
        ({"date_of_death": date(2027, 1, 5)}, "died on 05 Jan 2027"),
    ],
)
def test_a_row_that_contradicts_a_known_patient_is_left_with_both_values(nurse, fields, says):
    known_patient(nurse, **fields)
    verdict = only_verdict(nurse, CELLS)
    assert verdict.kind == "conflict"
    assert says in " ".join(verdict.reasons)


def test_sex_counts_only_when_both_give_it(nurse):
    known_patient(nurse, sex="male")
    names = [*CELLS, "Sex"]
    assert only_verdict(nurse, CELLS | {"Sex": ""}, names=names).kind == "known"
    verdict = only_verdict(nurse, CELLS | {"Sex": "female"}, names=names)
    assert verdict.kind == "conflict"
    assert verdict.reasons == ("Sex: the file says female, the register male.",)


def test_case_and_hyphens_make_no_other_name(nurse):
    known_patient(nurse, family_name="ZOË-BECK", hospital_number="h00104711")
    assert only_verdict(nurse, CELLS).kind == "known"


def test_two_numbers_of_two_patients_are_refused(nurse):
    known_patient(nurse, hospital_number="H1", nhs_number=NHS)
    known_patient(nurse, hospital_number=TRUTH["hospital_number"], nhs_number="")
    assert "two different patients" in only_verdict(nurse, CELLS).reasons[0]


def test_a_hospital_number_that_lost_its_zeros_is_for_a_person(nurse):
    known_patient(nurse, hospital_number="00104711", nhs_number="", family_name="Someone")
    verdict = only_verdict(nurse, changed(Hospital_number="104711"))
    assert verdict.kind == "conflict"
    assert "00104711" in verdict.reasons[0]


def test_the_same_name_and_birth_under_another_number_is_for_a_person_to_decide(nurse):
    known_patient(nurse, hospital_number="H1", nhs_number="")
    assert "enter this patient by hand" in only_verdict(nurse, CELLS).reasons[0]


def test_two_nhs_numbers_are_two_people(nurse):
    known_patient(nurse, hospital_number="H1", nhs_number=NHS_2)
    assert only_verdict(nurse, CELLS).kind == "new"


def test_a_patient_of_another_site_is_not_known_here(nurse):
    with acting("test"):
        make_patient(make_site(), hospital_number=TRUTH["hospital_number"], nhs_number=NHS)
    assert only_verdict(nurse, CELLS).kind == "new"


def test_the_number_of_a_record_set_aside_is_taken(nurse):
    known_patient(nurse, voided_at="2027-01-01T00:00Z", void_reason="entered twice")
    assert "set aside" in only_verdict(nurse, CELLS).reasons[0]


def test_the_number_of_a_record_made_one_with_another_names_the_one_that_stands(nurse):
    gone = known_patient(nurse, nhs_number="")
    middle, stands = (
        known_patient(nurse, **OTHER),
        known_patient(nurse, **OTHER | {"hospital_number": "H3"}),
    )
    for one, other in ((gone, middle), (middle, stands)):
        one.refresh_from_db()
        other.refresh_from_db()
        records_merge(
            stay=other, gone=one, versions=(other.version, one.version), chosen={}, kept={},
            reason="entered twice", user=nurse,
        )  # fmt: skip
    reason = only_verdict(nurse, CELLS).reasons[0]
    assert "H00104711, which was made one with H3" in reason
    assert "Write the hospital number H3" in reason


OTHER = {"hospital_number": "H2", "nhs_number": ""}


def test_a_new_referral_keeps_the_contact_data_that_a_person_recorded(nurse):
    patient = known_patient(nurse, address="1 Old Street")
    cells = changed(Address="2 New Street", Telephone="01632 960123", Postcode="XH1 1AA")
    kept = keep(nurse, written([cells], names=cells))
    verdict = look(kept).verdicts[0]
    assert verdict.kind == "known"
    assert verdict.notes == (
        "Postcode: not recorded → XH1 1AA",
        "Address: the file says 2 New Street, a person recorded 1 Old Street. "
        "Change it on the record.",
        "Telephone: 01632 960123 is added.",
    )
    confirm(nurse, kept)
    patient.refresh_from_db()
    assert (patient.address, patient.postcode, patient.version) == ("1 Old Street", "XH1 1AA", 2)
    assert patient.phones.get().number == "01632 960123"
    assert patient.referrals.get().fractures.count() == 2


def test_a_level_that_waits_already_is_for_a_person(nurse):
    patient = known_patient(nurse)
    with acting("test"):
        make_fracture(make_referral(patient, referred_on=date(2027, 2, 20)), level="L1")
    verdict = only_verdict(nurse, CELLS)
    assert verdict.kind == "conflict"
    assert verdict.reasons == (
        "L1 is waiting already, from the referral of 20 Feb 2027. Add what is new to that "
        "referral by hand.",
    )


def test_an_old_fracture_of_the_level_does_not_wait(nurse):
    patient = known_patient(nurse)
    with acting("test"):
        old = make_referral(patient, referred_on=date(2025, 2, 20), onset_on=date(2025, 2, 1))
        make_fracture(old, level="L1", state="treated")
    assert only_verdict(nurse, CELLS).kind == "known"


def test_a_value_of_an_earlier_file_is_changed_by_a_later_one(nurse):
    confirm(nurse, keep(nurse, written([CELLS])))
    cells = changed(Pain_on_movement="6", Onset_date="Feb 2027", Weight_kg="61.5")
    kept = keep(nurse, written([cells], names=cells))
    verdict = look(kept).verdicts[0]
    assert verdict.kind == "changed"
    assert verdict.notes == (
        "Onset date: 03 Feb 2027 → Feb 2027",
        "Pain on movement: 8 → 6",
        "Weight kg: not recorded → 61.5",
    )
    confirm(nurse, kept)
    referral = Referral.objects.get()
    assert (referral.pain_moving, referral.weight_kg, referral.version) == (6, Decimal("61.5"), 2)
    assert {(f.onset_on, f.onset_precision) for f in Fracture.objects.all()} == {
        (date(2027, 2, 1), "month")
    }
    assert look(keep(nurse, written([cells], names=cells))).seal == "s"


def test_a_value_that_a_person_recorded_is_for_a_person(nurse):
    confirm(nurse, keep(nurse, written([CELLS])))
    referral = Referral.objects.get()
    with acting(nurse, "Asked again"):
        referral.pain_moving = 7
        update_row(referral, expected_version=1, fields=["pain_moving"])
    verdict = only_verdict(nurse, changed(Pain_on_movement="6"))
    assert verdict.kind == "conflict"
    words = "Pain on movement: the file says 6, a person recorded 7."
    assert verdict.reasons == (words,)


def test_a_value_that_a_person_took_out_is_for_a_person(nurse):
    confirm(nurse, keep(nurse, written([CELLS])))
    referral = Referral.objects.get()
    with acting(nurse, "Was another patient's"):
        referral.pain_moving = None
        update_row(referral, expected_version=1, fields=["pain_moving"])
    verdict = only_verdict(nurse, CELLS)
    assert verdict.kind == "conflict"
    assert verdict.reasons[0].endswith("and a person took out what was recorded.")


def test_a_referral_of_which_something_was_decided_is_closed_to_files(nurse):
    confirm(nurse, keep(nurse, written([CELLS])))
    fracture = Fracture.objects.get(level="L1")
    with acting(nurse, "Decided"):
        fracture.state = "listed"
        update_row(fracture, expected_version=1, fields=["state"])
    cells = CELLS | {"Weight kg": "61.5"}
    verdict = only_verdict(nurse, cells, names=cells)
    assert verdict.kind == "conflict"
    assert "L1 is no longer waiting (decided for a procedure)" in verdict.reasons[0]
    assert "Weight kg: not recorded → 61.5" in verdict.reasons
    assert only_verdict(nurse, CELLS).kind == "same"


def test_another_level_of_a_recorded_referral_is_for_a_person(nurse):
    confirm(nurse, keep(nurse, written([CELLS])))
    verdict = only_verdict(nurse, changed(Levels="T12 L1 L3"))
    assert verdict.kind == "conflict"
    assert verdict.reasons == ("Levels: L3 is not part of the recorded referral.",)


def test_blood_values_are_added_and_never_replaced(nurse):
    cells = CELLS | {"INR": "1.1", "Blood test date": "03 Mar 2027"}
    confirm(nurse, keep(nurse, written([cells], names=cells)))
    more = cells | {"Platelets": "231"}
    kept = keep(nurse, written([more], names=more))
    assert look(kept).verdicts[0].notes == ("Platelets of 03 Mar 2027: not recorded → 231",)
    confirm(nurse, kept)
    assert LaboratoryResult.objects.count() == 2
    verdict = only_verdict(nurse, cells | {"INR": "1.4"}, names=cells)
    assert verdict.kind == "conflict"
    assert verdict.reasons == ("INR of 03 Mar 2027: the file says 1.4, recorded is 1.10.",)


def test_who_somebody_is_is_never_changed_by_a_file(nurse):
    patient = known_patient(nurse, nhs_number="")
    kept = keep(nurse, written([CELLS]))
    assert "NHS Number: " in look(kept).verdicts[0].notes[0]
    assert "is not taken over" in look(kept).verdicts[0].notes[0]
    confirm(nurse, kept)
    patient.refresh_from_db()
    assert (patient.nhs_number, patient.version) == ("", 1)


def test_an_empty_cell_never_differs_and_never_overwrites(nurse):
    confirm(nurse, keep(nurse, written([CELLS])))
    assert only_verdict(nurse, changed(Pain_on_movement="", Onset_date="")).kind == "same"
    assert Referral.objects.get().pain_moving == 8


def test_a_reason_never_overwrites_a_value(nurse):
    confirm(nurse, keep(nurse, written([CELLS])))
    verdict = only_verdict(nurse, changed(Pain_on_movement="not known"))
    assert verdict.kind == "same"
    assert verdict.notes == ("Pain on movement: the file says “not known”; 8 is kept.",)


def test_a_value_takes_the_place_of_a_reason_and_a_reason_that_of_nothing(nurse):
    confirm(nurse, keep(nurse, written([changed(Pain_on_movement="not known")])))
    cells = CELLS | {"Steroids": "declined"}
    kept = keep(nurse, written([cells], names=cells))
    assert set(look(kept).verdicts[0].notes) == {
        "Pain on movement: not known → 8",
        "Steroids: not recorded → declined",
    }
    confirm(nurse, kept)
    referral = Referral.objects.get()
    assert (referral.pain_moving, referral.absent) == (8, {"takes_steroids": "declined"})


def test_drugs_that_differ_are_told(nurse):
    names = [*CELLS, "Blood thinners"]
    confirm(
        nurse,
        keep(nurse, written([changed(Blood_thinners="aspirin (stroke, older)")], names=names)),
    )
    verdict = only_verdict(nurse, changed(Blood_thinners="none"), names=names)
    words = "Blood thinners: the file says none, recorded is aspirin (stroke, older)."
    assert words in verdict.reasons


def test_referrals_of_a_file_are_on_the_days_they_say(nurse):
    confirm(nurse, keep(nurse, written([CELLS])))
    referral = Referral.objects.get()
    assert TODAY - referral.referred_on == timedelta(days=3)
    assert referral.received_on is None
