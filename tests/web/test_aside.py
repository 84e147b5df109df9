"""Records set aside with a reason, and brought back."""

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone
from django.utils.timezone import localdate

from planning.record_kinds import BY_CODE, KINDS
from planning.services.aside import record_aside, record_back
from register.history import acting
from register.models import Fracture, LaboratoryResult, Patient
from tests.factories import (
    make_decision,
    make_entry,
    make_fracture,
    make_measurement,
    make_patient,
    make_plan,
    make_procedure,
    make_reading,
    make_referral,
    make_review,
    make_score,
    make_session,
    make_technique,
)
from tests.web.history import change, text

pytestmark = pytest.mark.django_db
PAGES = ("patient-history", "patient-as-of")


@pytest.fixture
def patient(people):
    with acting("night job", "Loaded"):
        return make_patient(people.site)


@pytest.fixture
def referral(patient):
    with acting("night job", "Loaded"):
        return make_referral(patient)


@pytest.fixture
def procedure(people, referral):
    with acting("night job", "Loaded"):
        fracture = make_fracture(referral)
        return make_procedure(fracture, make_technique(people.site), people.users["consultant"])


def press(people, role, name, code, row, **typed):
    row.refresh_from_db()
    data = {"version": row.version, "reason": "Entered for the wrong patient"} | typed
    return people.client(role).post(reverse(name, args=[code, row.pk]), data)


def test_a_record_is_set_aside_and_brought_back(people, patient):
    with acting("test"):
        row = LaboratoryResult.objects.create(
            patient=patient, analyte="crp", unit="mg/L", value=4, taken_on=localdate()
        )
    page = text(people.client("nurse").get(reverse("record-aside", args=["laboratory", row.pk])))
    assert "Set it aside" in page
    assert press(people, "nurse", "record-aside", "laboratory", row, reason=" ").status_code == 422
    assert press(people, "nurse", "record-aside", "laboratory", row).status_code == 302
    row.refresh_from_db()
    assert (row.void_reason, LaboratoryResult.objects.live().exists()) == (
        "Entered for the wrong patient", False,
    )  # fmt: skip
    assert press(people, "nurse", "record-aside", "laboratory", row).status_code == 422
    page = text(people.client("nurse").get(reverse("record-history", args=["laboratory", row.pk])))
    assert "It counts nowhere. Reason: Entered for the wrong patient" in page
    nurse = people.users["nurse"]
    assert f"set aside by the specialist nurse {nurse}, because entered for the wrong" in page
    assert press(people, "nurse", "record-back", "laboratory", row).status_code == 302
    assert LaboratoryResult.objects.live().exists()


def test_what_hangs_on_a_record_keeps_it(people, referral, procedure):
    answer = press(people, "nurse", "record-aside", "referral", referral)
    assert answer.status_code == 422
    assert "These belong to it: 1 fracture. Set them aside first." in text(answer)
    referral.refresh_from_db()
    assert referral.voided_at is None


def test_somebody_elses_version_is_not_set_aside(people, referral):
    answer = press(people, "nurse", "record-aside", "referral", referral, version=99)
    assert answer.status_code == 422


def test_parts_go_and_come_back_with_the_whole(people, referral):
    with acting("test"):
        fracture = make_fracture(referral)
        reading = make_reading(fracture, people.users["consultant"])
        measured = make_measurement(reading)
    press(people, "nurse", "record-aside", "reading", reading)
    measured.refresh_from_db()
    assert measured.voided_at is not None
    press(people, "nurse", "record-back", "reading", reading)
    measured.refresh_from_db()
    assert measured.voided_at is None


def test_a_part_waits_for_what_it_belongs_to(people, referral):
    with acting("test"):
        reading = make_reading(make_fracture(referral), people.users["consultant"])
    press(people, "nurse", "record-aside", "reading", reading)
    press(people, "nurse", "record-aside", "study", reading.study)
    answer = press(people, "nurse", "record-back", "reading", reading)
    assert "Bring that back first." in text(answer)


def test_a_contact_of_the_protocol_becomes_due_again(people, procedure):
    with acting("test"):
        review = make_review(procedure)
    answer = press(people, "nurse", "record-aside", "review", review)
    assert "stays on the list" in text(answer)
    change(review, people.users["nurse"], held_on=localdate(), recorded_by=people.users["nurse"])
    with acting("test"):
        score = make_score(review)
    assert press(people, "nurse", "record-aside", "review", review).status_code == 302
    for row in (review, score):
        row.refresh_from_db()
    assert (review.held_on, review.voided_at) == (None, None)
    assert score.voided_at is not None


def test_a_procedure_set_aside_gives_the_case_back_to_its_list(people, referral):
    with acting("test"):
        fracture = make_fracture(referral, state="listed")
        plan = make_plan(make_decision(fracture, people.users["consultant"]),
                         make_technique(people.site))  # fmt: skip
        change(plan, people.users["consultant"], state="approved",
               approved_by=people.users["consultant"], approved_at=timezone.now())  # fmt: skip
        procedure = make_procedure(fracture, plan.technique, people.users["consultant"])
        entry = make_entry(make_session(people.site), plan, procedure=procedure, state="done")
        review = make_review(procedure)
        change(procedure, people.users["consultant"], state="signed",
               signed_by=people.users["consultant"], signed_at=timezone.now())  # fmt: skip
        change(fracture, people.users["consultant"], state="treated")
    assert "1 treated level" in text(press(people, "nurse", "record-aside", "procedure", procedure))
    level = procedure.levels.get()
    assert press(people, "nurse", "record-aside", "treated-level", level).status_code == 302
    assert Fracture.objects.get(pk=fracture.pk).state == "listed"
    assert press(people, "nurse", "record-aside", "procedure", procedure).status_code == 302
    for row in (entry, review):
        row.refresh_from_db()
    assert (entry.state, entry.procedure_id) == ("planned", None)
    assert review.voided_at is not None


def test_every_kind_that_can_be_set_aside_asks_a_right_and_a_reason(people, referral):
    for kind in KINDS:
        if not kind.right:
            assert kind.code in (
                "assessment",
                "decision",
                "planned-level",
                "list-entry",
                "transfer",
                "image-file",
                "image-frame",
            )
    with pytest.raises(ValidationError, match="Say why"):
        record_aside(kind=BY_CODE["referral"], row=referral, expected_version=1,
                     user=people.users["nurse"], reason=" ")  # fmt: skip
    referral.refresh_from_db()
    with pytest.raises(ValidationError, match="not set aside"):
        record_back(kind=BY_CODE["referral"], row=referral, expected_version=1,
                    user=people.users["nurse"], reason="x")  # fmt: skip


def test_a_patients_record_that_was_set_aside_can_still_be_read(people, patient):
    assert press(people, "nurse", "record-aside", "patient", patient).status_code == 302
    assert not Patient.objects.live().exists()
    client = people.client("nurse")
    for name in PAGES:
        assert client.get(reverse(name, args=[patient.pk])).status_code == 200
    assert "Set aside" in text(client.get(reverse("patient-history", args=[patient.pk])))
