"""The bridge from rows to facts: newest wins, absent is None, nothing is guessed."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from planning.facts import facts_of, facts_of_many
from planning.rules.facts import FACT_NAMES, CaseFacts
from register.models import BoneDensity, Fracture, LaboratoryResult, ReferralDrug, Study
from tests.factories import (
    TODAY,
    make_decision,
    make_fracture,
    make_measurement,
    make_patient,
    make_plan,
    make_reading,
    make_referral,
    make_site,
    make_technique,
    make_user,
)

pytestmark = pytest.mark.usefixtures("acting_tester")
DAY = timedelta(days=1)
LAST_WEEK = TODAY - 7 * DAY


@pytest.fixture
def consultant(db):
    return make_user(make_site(), "consultant")


@pytest.fixture
def fracture(consultant):
    return make_fracture(make_referral(make_patient(consultant.site)))


def facts(fracture, on=TODAY):
    return facts_of(fracture, on=on)


def a_study(fracture, modality="mri", on=LAST_WEEK):
    return Study.objects.create(patient=fracture.patient, modality=modality, performed_on=on)


def laboratory(fracture, analyte, value, on):
    unit = {"inr": "ratio", "platelets": "×10⁹/L", "crp": "mg/L"}[analyte]
    return LaboratoryResult.objects.create(
        patient=fracture.patient, analyte=analyte, value=Decimal(value), unit=unit, taken_on=on
    )


def test_a_bare_fracture_has_its_level_and_person_and_nothing_else(consultant):
    patient = make_patient(consultant.site, sex="")
    bare = Fracture.objects.create(patient=patient, level="T9")

    known = {name for name in FACT_NAMES if getattr(facts(bare), name) is not None}

    assert known == {"level", "age_years"}


def test_what_the_referral_says_comes_with_its_day(fracture):
    found = facts(fracture)

    assert found.pain_moving == 8
    assert found.neurology == "N0"
    assert found.infection_signs == ("none",)
    assert found.mechanism == "low"
    assert found.antithrombotics == ()
    assert found.onset_on == TODAY - 26 * DAY
    assert found.dates["pain_moving"] == fracture.referral.referred_on


REFERRAL_COLUMNS = [
    ("mechanism", "none", "none"),
    ("pain_moving", 0, 0),
    ("pain_trend", "improving", "improving"),
    ("analgesia_optimal", False, False),
    ("failure_criteria", ["not_walking"], ("not_walking",)),
    ("neurology", "N3", "N3"),
    ("infection_state", "suspected", "suspected"),
    ("infection_signs", ["fever"], ("fever",)),
    ("cancer_history", "past", "past"),
    ("no_mri_reason", "device", "device"),
    ("mri_equivalent", "spect_ct", "spect_ct"),
    ("pregnancy", "possible", "possible"),
    ("allergy_to_cement", True, True),
    ("allergy_to_contrast", False, False),
]


@pytest.mark.parametrize(("name", "stored", "fact"), REFERRAL_COLUMNS)
def test_each_referral_column_becomes_its_fact_and_blank_becomes_none(
    consultant, name, stored, fact
):
    blank = {list: [], str: "", bool: None, int: None}[type(stored)]
    told = make_fracture(make_referral(make_patient(consultant.site), **{name: stored}))
    silent = make_fracture(make_referral(make_patient(consultant.site), **{name: blank}))

    assert getattr(facts(told), name) == fact
    assert getattr(facts(silent), name) is None


def test_empty_for_a_reason_is_not_a_no(consultant):
    referral = make_referral(
        make_patient(consultant.site), cancer_history="", absent={"cancer_history": "not_known"}
    )

    assert facts(make_fracture(referral)).cancer_history is None


READING_COLUMNS = [
    ("epidural_grade", "1c"),
    ("posterior_wall", "under_fifth"),
    ("retropulsion_mm", Decimal("2.5")),
    ("canal_percent", 30),
    ("tension_band", "suspected"),
    ("translation", False),
    ("disc_centred", True),
    ("convex_posterior_border", False),
    ("pedicle_signal", True),
    ("posterior_element_signal", False),
    ("epidural_mass", True),
    ("paraspinal_mass", False),
    ("other_lesions", False),
    ("end_plates", "inferior"),
    ("oedema", "none"),
]


@pytest.mark.parametrize(("name", "value"), READING_COLUMNS)
def test_each_reading_column_becomes_its_fact_and_blank_becomes_none(
    fracture, consultant, name, value
):
    blank = "" if isinstance(value, str) else None
    make_reading(fracture, consultant, **{name: blank})
    assert getattr(facts(fracture), name) is None

    make_reading(fracture, consultant, **{name: value}, read_on=TODAY - DAY)

    assert getattr(facts(fracture), name) == value
    assert facts(fracture).dates[name] == TODAY - DAY


def test_what_the_fracture_itself_says(fracture):
    fracture.cause, fracture.tender, fracture.matches_imaging = "tumour", False, None
    fracture.save()

    found = facts(fracture)

    assert (found.cause, found.tender, found.matches_imaging) == ("tumour", False, None)


def test_every_fact_has_a_column_that_feeds_it(fracture, consultant):
    """A fact that nobody can record would be missing for ever."""
    columns = {name for name, *_ in [*REFERRAL_COLUMNS, *READING_COLUMNS]}
    elsewhere = {
        "age_years", "sex", "level", "onset_on", "onset_precision", "tender", "matches_imaging",
        "cause",
        "equivalent_fresh", "height_loss_percent", "crp_mg_l", "t_score", "attenuation_hu", "inr",
        "platelets_10e9_l", "antithrombotics", "levels_planned", "team_reviewed", "bone_plan",
    }  # fmt: skip
    assert columns | elsewhere == set(FACT_NAMES)


def test_a_newer_blank_does_not_wipe_an_older_value(fracture, consultant):
    make_reading(fracture, consultant, posterior_wall="fifth_or_more", read_on=TODAY - 9 * DAY)
    make_reading(fracture, consultant, posterior_wall="", oedema="whole", read_on=TODAY - DAY)

    found = facts(fracture)

    assert (found.posterior_wall, found.oedema) == ("fifth_or_more", "whole")
    assert found.dates["posterior_wall"] == TODAY - 9 * DAY


def test_what_comes_after_the_day_or_was_voided_does_not_count(fracture, consultant):
    make_reading(fracture, consultant, oedema="band", read_on=TODAY - 2 * DAY)
    wrong = make_reading(fracture, consultant, oedema="none", read_on=TODAY - DAY)
    wrong.voided_at, wrong.void_reason = timezone.now(), "wrong patient"
    wrong.save()
    make_reading(fracture, consultant, oedema="whole", read_on=TODAY + DAY)
    laboratory(fracture, "inr", "2.4", TODAY + DAY)

    assert facts(fracture).oedema == "band"
    assert facts(fracture).inr is None


def test_another_level_another_fracture_and_an_older_image_stay_silent(consultant):
    referral = make_referral(make_patient(consultant.site))
    fracture = make_fracture(referral, level="L1")
    other = make_fracture(referral, level="L3")
    make_reading(other, consultant, oedema="whole")
    make_reading(other, consultant, level="L1", oedema="whole")  # linked to the other fracture
    make_reading(fracture, consultant, level="T12", oedema="whole")  # linked, of another level
    before = make_reading(fracture, consultant, oedema="whole", read_on=TODAY - 60 * DAY)
    before.fracture = None  # same level, but imaged before this fracture began
    before.save()

    assert facts(fracture).oedema is None


def test_an_unlinked_reading_of_the_level_since_the_onset_counts(fracture, consultant):
    reading = make_reading(fracture, consultant, oedema="whole")
    reading.fracture = None
    reading.save()

    assert facts(fracture).oedema == "whole"


def test_an_earlier_complaint_does_not_speak_about_this_fracture(consultant):
    patient = make_patient(consultant.site)
    make_referral(patient, referred_on=TODAY - 700 * DAY, onset_on=None, onset_precision="",
                  cancer_history="active")  # fmt: skip
    fracture = make_fracture(make_referral(patient, cancer_history=""))
    assert facts(fracture).cancer_history is None

    make_referral(patient, referred_on=TODAY - DAY, onset_on=None, onset_precision="",
                  neurology="N3", cancer_history="no")  # fmt: skip

    assert (facts(fracture).neurology, facts(fracture).cancer_history) == ("N3", "no")


def test_oedema_counts_on_mri_only(fracture, consultant):
    make_reading(fracture, consultant, study=a_study(fracture, "ct"), oedema="whole")

    assert facts(fracture).oedema is None


def test_a_bone_scan_speaks_in_place_of_mri(fracture, consultant):
    scan = a_study(fracture, "bone_scan")
    make_reading(fracture, consultant, study=scan, oedema="none", read_on=LAST_WEEK)

    found = facts(fracture)

    assert (found.mri_equivalent, found.equivalent_fresh) == ("bone_scan", False)
    assert found.oedema is None


def test_only_the_stated_equivalent_speaks_when_one_is_stated(consultant):
    referral = make_referral(
        make_patient(consultant.site), no_mri_reason="device", mri_equivalent="spect_ct"
    )
    fracture = make_fracture(referral)
    make_reading(fracture, consultant, study=a_study(fracture, "bone_scan"), oedema="whole")
    assert facts(fracture).equivalent_fresh is None

    make_reading(fracture, consultant, study=a_study(fracture, "spect_ct"), oedema="partial")
    assert facts(fracture).equivalent_fresh is True


@pytest.mark.parametrize(
    ("analyte", "name"), [("inr", "inr"), ("platelets", "platelets_10e9_l"), ("crp", "crp_mg_l")]
)
def test_the_newest_laboratory_value_counts(fracture, analyte, name):
    assert getattr(facts(fracture), name) is None
    laboratory(fracture, analyte, "12.5", TODAY - 3 * DAY)
    laboratory(fracture, analyte, "7.25", TODAY - DAY)

    assert getattr(facts(fracture), name) == Decimal("7.25")
    assert facts(fracture).dates[name] == TODAY - DAY


def test_bone_density_takes_the_lowest_site_of_the_newest_day_and_l1_only(fracture):
    def density(**fields):
        BoneDensity.objects.create(patient=fracture.patient, **fields)

    density(measured_on=TODAY - 90 * DAY, t_score=Decimal("-3.9"), site="hip")
    density(measured_on=LAST_WEEK, t_score=Decimal("-1.2"), site="lumbar")
    density(measured_on=LAST_WEEK, t_score=Decimal("-2.6"), site="neck")
    density(measured_on=LAST_WEEK, attenuation_hu=180, attenuation_level="T12")
    assert (facts(fracture).t_score, facts(fracture).attenuation_hu) == (Decimal("-2.6"), None)

    density(measured_on=LAST_WEEK, attenuation_hu=88, attenuation_level="L1")
    assert facts(fracture).attenuation_hu == 88


def test_drugs_keep_their_reason_and_unnamed_drugs_are_not_none(consultant):
    referral = make_referral(make_patient(consultant.site), takes_antithrombotics=True)
    fracture = make_fracture(referral)
    assert facts(fracture).antithrombotics is None

    ReferralDrug.objects.create(
        referral=referral, drug="warfarin", indication="atrial_fibrillation"
    )
    ReferralDrug.objects.create(referral=referral, drug="aspirin")

    assert facts(fracture).antithrombotics == (
        ("warfarin", "atrial_fibrillation"),
        ("aspirin", ""),
    )


def heights(front, middle, back):
    return {
        "anterior_height_mm": Decimal(front),
        "middle_height_mm": Decimal(middle),
        "posterior_height_mm": Decimal(back),
    }


def test_height_loss_is_taken_from_neighbours_of_the_same_examination(fracture, consultant):
    study = a_study(fracture, "film")
    own = make_reading(fracture, consultant, study=study, read_on=LAST_WEEK)
    make_measurement(own, **heights("16.4", "15.5", "26.2"))
    assert facts(fracture).height_loss_percent is None

    elsewhere = a_study(fracture, "ct", on=LAST_WEEK)
    above = make_reading(
        fracture, consultant, study=elsewhere, level="T12", end_plates="none", read_on=LAST_WEEK
    )
    make_measurement(above, **heights("30.0", "30.0", "30.0"))
    assert facts(fracture).height_loss_percent is None

    above.study = study
    above.save()

    # 1 - 15.5 / 30.0 = 48.33 %: the middle height has lost most.
    assert facts(fracture).height_loss_percent == Decimal("48.33")
    assert facts(fracture).dates["height_loss_percent"] == LAST_WEEK


def test_a_fractured_neighbour_is_no_reference(fracture, consultant):
    study = a_study(fracture, "film")
    for level, plates in [("L1", "superior"), ("T12", "both")]:
        reading = make_reading(
            fracture, consultant, study=study, level=level, end_plates=plates, read_on=LAST_WEEK
        )
        make_measurement(reading, **heights("20.0", "20.0", "20.0"))

    assert facts(fracture).height_loss_percent is None


def test_an_impossible_gain_is_no_fact(fracture, consultant):
    study = a_study(fracture, "film")
    for level, plates, height in [("L1", "superior", "40.0"), ("T12", "none", "20.0")]:
        reading = make_reading(
            fracture, consultant, study=study, level=level, end_plates=plates, read_on=LAST_WEEK
        )
        make_measurement(reading, **heights(height, height, height))

    assert facts(fracture).height_loss_percent is None


def test_team_plan_and_bone_drug(fracture, consultant):
    found = facts(fracture)
    assert (found.team_reviewed, found.levels_planned, found.bone_plan) == (None, None, None)

    decision = make_decision(fracture, consultant, team_meeting_on=TODAY - DAY)
    make_plan(decision, make_technique(consultant.site))
    fracture.referral.bone_drug_started_on = LAST_WEEK
    fracture.referral.save()

    found = facts(fracture)
    assert (found.team_reviewed, found.levels_planned, found.bone_plan) == (True, 1, True)
    assert found.dates["team_reviewed"] == TODAY - DAY


def test_age_counts_completed_years(consultant):
    patient = make_patient(consultant.site, date_of_birth=date(1947, 3, 8))

    assert facts(make_fracture(make_referral(patient))).age_years == 79


def test_facts_travel_as_json(fracture, consultant):
    make_reading(fracture, consultant, retropulsion_mm=Decimal("1.5"))
    laboratory(fracture, "inr", "1.20", TODAY)
    found = facts(fracture)

    assert CaseFacts.from_json(found.as_json()) == found


def test_many_fractures_cost_as_many_queries_as_one(consultant):
    def some(number):
        made = []
        for _ in range(number):
            fracture = make_fracture(make_referral(make_patient(consultant.site)))
            make_measurement(make_reading(fracture, consultant))
            make_plan(make_decision(fracture, consultant), make_technique(consultant.site))
            made.append(fracture.pk)
        return list(Fracture.objects.filter(pk__in=made).select_related("patient"))

    few, many = some(1), some(6)
    with CaptureQueriesContext(connection) as one:
        facts_of_many(few, on=TODAY)
    with CaptureQueriesContext(connection) as six:
        facts_of_many(many, on=TODAY)

    assert len(six) == len(one)
