"""Recording a contact: all or nothing, once, and never over somebody else's save."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import ValidationError
from django.db import connections
from django.utils.timezone import now

from register.history.reading import changes_of_row
from register.models import FormReceipt, Review, Score
from register.services.editing import EditConflict
from register.services.outcomes import ScoreEntry, follow_up_end, review_record
from register.services.receipts import AlreadyTaken
from tests.factories import (
    TODAY,
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_site,
    make_technique,
    make_user,
)


@pytest.fixture
def contact(db, as_tester):
    with as_tester():
        site = make_site()
        fracture = make_fracture(make_referral(make_patient(site)))
        procedure = make_procedure(fracture, make_technique(site), make_user(site, "consultant"))
        return make_review(procedure)


@pytest.fixture
def nurse(contact, as_tester):
    with as_tester():
        return make_user(contact.patient.site, "nurse")


def record(contact, nurse, *, value=3, token="token", version=1, **fields):
    return review_record(
        review=Review.objects.get(pk=contact.pk),
        expected_version=version,
        scores={"pain_now": ScoreEntry(value), "falls": ScoreEntry(None, absent="declined")},
        fields={"held_on": TODAY, "mode": "telephone", "informant": "patient"} | fields,
        token=token,
        user=nurse,
    )


def test_the_history_names_the_person_and_keeps_the_earlier_value(contact, nurse):
    record(contact, nurse, value=3)
    record(contact, nurse, value=8, token="other", version=2)
    score = Score.objects.get(review=contact, instrument="pain_now")
    made, changed = changes_of_row(score)
    assert (made.actor, made.reason) == (nurse.username, "Contact recorded")
    assert changed.reason == "Contact amended"
    assert {name: old for name, (old, _) in changed.fields.items()} == {"value": 3.0, "version": 1}


def test_the_same_form_is_taken_once(contact, nurse):
    record(contact, nurse)
    with pytest.raises(AlreadyTaken):
        record(contact, nurse)
    assert Review.objects.get(pk=contact.pk).version == 2


def test_a_refused_save_changes_nothing_and_gives_the_token_back(contact, nurse):
    with pytest.raises(ValidationError):
        record(contact, nurse, value=11)
    with pytest.raises(ValidationError):
        record(contact, nurse, red_flags=["fever"])
    assert Review.objects.get(pk=contact.pk).held_on is None
    assert not Score.objects.exists()
    assert not FormReceipt.objects.exists()
    record(contact, nurse)


@pytest.mark.parametrize("part", ["score", "draft"])
def test_a_fault_half_way_leaves_no_half_contact(contact, nurse, monkeypatch, part):
    def fail(*args, **options):
        raise OSError("disk full")

    name = {"score": "_score_save", "draft": "draft_drop"}[part]
    monkeypatch.setattr(f"register.services.outcomes.{name}", fail)
    with pytest.raises(OSError, match="disk full"):
        record(contact, nurse)
    assert Review.objects.get(pk=contact.pk).held_on is None
    assert not Score.objects.exists()


def test_a_sign_with_whom_and_when_is_taken(contact, nurse):
    signs = {"red_flags": ["fever"], "red_flags_told": "Surgeon", "red_flags_told_at": now()}
    assert record(contact, nurse, **signs).red_flags == ["fever"]


def run(calls):
    """Run calls at the same time; return how each ended."""

    def one(call):
        try:
            call()
            return "saved"
        except (AlreadyTaken, EditConflict) as refused:
            return type(refused).__name__
        finally:
            connections.close_all()

    with ThreadPoolExecutor(8) as pool:
        return sorted(pool.map(one, calls))


@pytest.mark.django_db(transaction=True)
def test_fifty_at_once_of_one_form_save_once(contact, nurse):
    ended = run([lambda: record(contact, nurse)] * 50)
    assert ended.count("saved") == 1
    assert set(ended) == {"saved", "AlreadyTaken"}
    assert Score.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_of_two_people_at_once_exactly_one_saves(contact, nurse):
    for turn in range(1, 21):
        calls = [
            lambda value=value, turn=turn: record(
                contact, nurse, value=value, token=f"{turn}-{value}", version=turn
            )
            for value in (2, 7)
        ]
        assert run(calls) == ["EditConflict", "saved"]
    assert Review.objects.get(pk=contact.pk).version == 21


def test_the_second_end_meets_the_first(contact, nurse):
    patient = contact.patient
    end = {"ended_on": TODAY, "source": "daughter", "user": nurse, "expected_version": 1}
    follow_up_end(patient=patient, end="moved", **end)
    with pytest.raises(EditConflict):
        follow_up_end(patient=patient, end="dead", **end)
    patient.refresh_from_db()
    assert (patient.follow_up_end, patient.date_of_death) == ("moved", None)
