"""The history in words, the record as it once stood, and what is amended."""

from datetime import datetime, timedelta

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django.utils.timezone import localdate

from planning.record_kinds import BY_TABLE, KINDS, NOT_TOLD
from planning.selectors.history import amendments_of, past_record, patient_history
from register.domain.days import MONTHS
from register.history import acting
from register.history.past import row_as_of
from register.history.reading import Change
from register.models import Score
from register.selectors.relations import links
from register.services import procedures
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_score,
    make_site,
    make_technique,
)
from tests.web.history import change, text
from tests.web.people import People, make_people

pytestmark = pytest.mark.django_db


@pytest.fixture
def people() -> People:
    with acting("test"):
        people = make_people()
        nurse = people.users["nurse"]
        nurse.first_name, nurse.last_name = "Ann", "Example"
        nurse.save()
    return people


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


def told(patient, kind="", person="", before=0):
    return patient_history(patient, kind=kind, person=person, before=before)


def sentences(patient, **asked):
    return [entry.sentence for entry in told(patient, **asked).entries]


# -- in words ----------------------------------------------------------------------------


def test_a_change_is_told_from_what_to_what_by_whom(people, referral, patient):
    change(referral, people.users["nurse"], "Referral changed", pain_moving=5, weight_kg="61.5")
    entry = told(patient).entries[0]
    assert entry.sentence == (
        "referral of 25 Feb 2027: pain on movement changed from 8 to 5; weight entered as "
        "61.5 kg by the specialist nurse Ann Example."
    )
    assert entry.note == "Referral changed"
    page = people.client("nurse").get(reverse("patient-history", args=[patient.pk]))
    assert "pain on movement changed from 8 to 5" in text(page)


def test_an_answer_that_is_missing_is_told_with_its_reason(people, referral, patient):
    nurse = people.users["nurse"]
    change(referral, nurse, pain_rest=None, absent={"pain_rest": "declined"})
    assert "pain at rest changed from 5 to declined" in sentences(patient)[0]
    change(referral, nurse, absent={"pain_rest": "not_known"})
    assert "pain at rest changed from declined to not known" in sentences(patient)[0]
    change(referral, nurse, absent={})
    assert "pain at rest changed from not known to not recorded" in sentences(patient)[0]


def test_an_unusual_value_is_told_with_its_reason(people, referral, patient):
    change(referral, people.users["nurse"], weight_kg="141.0", unusual={"weight_kg": "weighed"})
    assert "weight confirmed as right: “weighed”" in sentences(patient)[0]
    records = {kind.code: found for kind, found in past_record(patient, timezone.now())}
    assert ("weight", "141.0 kg (confirmed as right: “weighed”)") in records["referral"][0].values


def test_a_score_is_told_with_what_its_figure_means(people, procedure, patient):
    with acting(people.users["nurse"]):
        make_score(make_review(procedure, timepoint="weeks_2_4"), "analgesic_step", 2)
    entry = told(patient).entries[0]
    (score,) = (line for line in entry.lines if line.kind.code == "score")
    assert ("analgesic step", "2 weak opioid") in score.values


def test_a_day_is_told_as_exactly_as_it_is_known(people, referral, patient):
    change(referral, people.users["nurse"], onset_precision="month")
    assert "pain began changed from 09 Feb 2027 to Feb 2027" in sentences(patient)[0]


def test_codes_links_and_yes_or_no_are_told_in_words(people, procedure, patient):
    change(procedure, people.users["nurse"], anaesthesia="general", consciousness_lost=False,
           supervisor=people.users["consultant"])  # fmt: skip
    sentence = sentences(patient)[0]
    assert f"supervisor entered as {people.users['consultant']}" in sentence
    assert "consciousness lost entered as no" in sentence
    assert "changed from local anaesthesia and sedation to general anaesthesia" in sentence


def test_a_score_is_told_by_its_name_and_contact(people, procedure, patient):
    with acting("test"):
        score = make_score(make_review(procedure), "pain_moving", 7)
    change(score, people.users["nurse"], "Contact amended", value=5)
    assert sentences(patient)[0] == (
        "contact at 2 to 4 weeks: pain on movement changed from 7 to 5 by the specialist nurse "
        "Ann Example."
    )
    assert told(patient).entries[0].amends == "held"
    change(score, people.users["nurse"], "The scale was read the wrong way round.", value=6)
    assert sentences(patient)[0].endswith(
        "changed from 7 to 5; pain on movement changed from 5 to 6 by the specialist nurse "
        "Ann Example, because the scale was read the wrong way round."
    )


def test_what_a_job_loads_is_one_entry_by_counts(people, patient, procedure):
    with acting("night job", "Loaded"):
        Score.objects.bulk_create(
            Score(review=make_review(procedure, timepoint=f"t{n}"), instrument="pain_now", value=n)
            for n in range(8)
        )
    entry = told(patient).entries[0]
    assert entry.is_long
    assert "8 scores" in entry.sentence
    assert entry.sentence.endswith("entered by the job “night job”.")


def test_the_role_is_the_one_of_that_time(people, referral, patient):
    nurse = people.users["nurse"]
    change(referral, nurse, pain_moving=5)
    with acting("test"):
        nurse.role = "consultant"
        nurse.save()
    assert "by the specialist nurse Ann Example" in sentences(patient)[0]


def test_a_change_that_shows_nothing_is_told_too(people, referral, patient):
    change(referral, people.users["nurse"], pain_moving=8)
    assert sentences(patient)[0].startswith("referral of 25 Feb 2027: saved again without a change")


def test_every_table_that_leads_to_a_patient_is_told_or_says_why_not():
    leading = {link.model._meta.db_table for link in links()}
    assert leading - set(BY_TABLE) <= set(NOT_TOLD)
    assert not set(BY_TABLE) & set(NOT_TOLD)
    assert all(NOT_TOLD.values())


def test_every_field_of_every_kind_has_a_name_without_underscores():
    for kind in KINDS:
        for field in kind.fields:
            assert field.label, (kind.code, field.name)
            assert "_" not in field.label, (kind.code, field.label)
            assert not field.label.endswith(" id"), (kind.code, field.label)


def test_filters_by_kind_and_by_person(people, referral, patient):
    nurse = people.users["nurse"]
    change(referral, nurse, pain_moving=5)
    change(patient, nurse, care_home="Alder Lodge")
    assert len(sentences(patient, kind="patient", person=nurse.username)) == 1
    (both,) = told(patient, person=nurse.username).entries
    assert [line.words for line in both.lines] == [
        "referral of 25 Feb 2027: pain on movement changed from 8 to 5",
        "patient’s details: care home entered as Alder Lodge",
    ]
    assert len(sentences(patient, kind="study")) == 0
    address = reverse("patient-history", args=[patient.pk])
    page = text(people.client("nurse").get(address, {"kind": "study"}))
    assert "Nothing was changed that fits what you ask for." in page
    assert people.client("nurse").get(address, {"kind": "x", "before": "²"}).status_code == 200


@pytest.mark.django_db(transaction=True)
def test_pages_hold_every_save_once(people, referral, patient):
    for number in range(60):
        change(referral, people.users["nurse"], f"save {number}", pain_moving=number % 11)
    notes, before = [], 0
    while before is not None:
        page = told(patient, before=before, person=people.users["nurse"].username)
        assert len(page.entries) <= 25
        notes += [entry.note for entry in page.entries]
        before = page.older
    assert notes == [f"Save {number}" for number in range(59, -1, -1)]


def test_a_long_history_costs_no_more_questions(people, referral, patient):
    client, address = people.client("nurse"), reverse("patient-history", args=[patient.pk])
    nurse = people.users["nurse"]
    change(referral, nurse, pain_moving=5)
    client.get(address)
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get(address)
    for number in range(30):
        change(referral, nurse, pain_moving=number % 11)
        with acting(nurse):
            make_referral(patient)
    with CaptureQueriesContext(connection) as many:
        client.get(address)
    assert len(many) == len(few)


# -- as it stood -------------------------------------------------------------------------


def at(minutes):
    return datetime(2027, 3, 7, 10, minutes, tzinfo=timezone.get_fixed_timezone(0))


def test_a_row_as_of_a_moment():
    def made(minute, operation, old, new):
        return Change(minute, at(minute), "x", None, "", operation, old, new)

    changes = [
        made(1, "INSERT", None, {"n": 1}),
        made(3, "UPDATE", {"n": 1}, {"n": 2}),
        made(5, "DELETE", {"n": 2}, None),
    ]
    found = [row_as_of(changes, at(minute)) for minute in range(7)]
    assert found == [None, {"n": 1}, {"n": 1}, {"n": 2}, {"n": 2}, None, None]


def as_of(people, patient, day, **more):
    asked = {"day_day": day.day, "day_month": MONTHS[day.month - 1], "day_year": day.year} | more
    return people.client("nurse").get(reverse("patient-as-of", args=[patient.pk]), asked)


def test_the_record_as_it_stood(people, referral, patient):
    page = as_of(people, patient, localdate() - timedelta(days=1))
    assert "The register held nothing of this patient then." in text(page)
    change(referral, people.users["nurse"], pain_moving=5)
    page = text(as_of(people, patient, localdate()))
    assert "Not the present state." in page
    assert "Pain on movement 5" in page
    assert "As it stood on" in page


def test_the_record_as_it_stood_before_a_row_was_given_to_another(people, referral, patient):
    with acting("test"):
        other = make_patient(people.site)
    before = timezone.now()
    change(referral, people.users["nurse"], patient=other)
    kinds = lambda whose, when: [kind.code for kind, _ in past_record(whose, when)]  # noqa: E731
    assert kinds(patient, before) == ["patient", "referral"]
    assert kinds(patient, timezone.now()) == ["patient"]
    assert kinds(other, timezone.now()) == ["patient", "referral"]
    assert any("patient changed from" in s for s in sentences(patient))


def test_a_day_that_is_no_day_is_asked_again(people, patient):
    page = people.client("nurse").get(
        reverse("patient-as-of", args=[patient.pk]),
        {"day_day": "31", "day_month": "Feb", "day_year": "2026"},
    )
    assert page.status_code == 422
    assert 'value="31"' in page.content.decode()


# -- who may -----------------------------------------------------------------------------

PAGES = ("patient-history", "patient-as-of")


def test_the_lead_says_why_first(people, patient, referral):
    client = people.client("lead")
    for name in PAGES:
        answer = client.get(reverse(name, args=[patient.pk]))
        assert answer.status_code == 302
        assert "/reason/" in answer.url
    answer = client.get(reverse("record-history", args=["referral", referral.pk]))
    assert "/reason/" in answer.url
    assert client.get(reverse("record-aside", args=["referral", referral.pk])).status_code == 403


def test_another_sites_records_are_not_found(people, referral):
    with acting("test"):
        foreign = make_referral(make_patient(make_site()))
    client = people.client("consultant")
    assert client.get(reverse("patient-history", args=[foreign.patient_id])).status_code == 404
    for name in ("record-history", "record-aside", "record-back"):
        assert client.get(reverse(name, args=["referral", foreign.pk])).status_code == 404
        assert client.get(reverse(name, args=["user", 1])).status_code == 404


# -- amendments --------------------------------------------------------------------------


@pytest.fixture
def signed(people, procedure):
    change(procedure, people.users["consultant"], "Procedure signed", state="signed",
           signed_by=people.users["consultant"], signed_at=timezone.now())  # fmt: skip
    return procedure


@pytest.mark.django_db(transaction=True)
def test_a_signed_record_is_amended_with_a_reason_and_shows_it(people, signed, patient):
    consultant = people.users["consultant"]
    with pytest.raises(ValidationError, match="Say why it is changed"):
        procedures.procedure_change(
            procedure=signed, expected_version=signed.version, user=consultant, fluoroscopy_s=77,
            reason=" ",
        )  # fmt: skip
    signed.refresh_from_db()
    assert amendments_of(signed) == []
    procedures.cement_add(
        level=signed.levels.get(), user=consultant, side="left", volume_ml=2,
        reason="The print-out came later.",
    )  # fmt: skip
    (entry,) = amendments_of(signed)
    assert entry.sentence == (
        f"cement at L1, left entered by the consultant {consultant}, because the print-out came "
        "later."
    )
    page = text(people.client("consultant").get(reverse("procedure", args=[signed.pk])))
    assert "Amended since it was signed" in page
    assert "because the print-out came later." in page
