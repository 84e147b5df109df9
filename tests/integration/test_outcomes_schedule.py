"""Contacts are scheduled once, on the days of the protocol."""

from datetime import date, timedelta

import pytest
from django.db import connections, transaction

from register.domain.protocol import shipped
from register.models import Review
from register.selectors.protocols import values_in_force
from register.services.outcomes import reviews_schedule
from tests.factories import (
    TODAY,
    make_fracture,
    make_patient,
    make_procedure,
    make_protocol,
    make_referral,
    make_site,
    make_technique,
    make_user,
)

pytestmark = pytest.mark.django_db
PROTOCOL = shipped(TODAY)


@pytest.fixture
def case(as_tester):
    """A fracture, its treatment, and the nurse who schedules."""
    with as_tester():
        site = make_site()
        nurse = make_user(site, "nurse")
        fracture = make_fracture(make_referral(make_patient(site)))
        return fracture, make_procedure(fracture, make_technique(site), nurse), nurse


def schedule(case, anchor_on=TODAY, **follows):
    fracture, procedure, nurse = case
    return reviews_schedule(
        patient=fracture.patient,
        anchor_on=anchor_on,
        protocol_values=PROTOCOL,
        user=nurse,
        **follows or {"procedure": procedure},
    )


def test_the_shipped_protocol_asks_before_then_at_2_to_4_weeks_3_and_12_months(case):
    days = [
        (r.timepoint, (r.opens_on - TODAY).days, (r.closes_on - TODAY).days) for r in schedule(case)
    ]
    assert days == [
        ("before", -42, 0),
        ("weeks_2_4", 14, 31),
        ("months_3", 70, 126),
        ("months_12", 305, 455),
    ]


def test_scheduling_again_adds_nothing(case):
    first = {r.pk for r in schedule(case)}
    assert {r.pk for r in schedule(case)} == first
    assert Review.objects.count() == 4


def test_a_corrected_day_moves_the_windows_and_says_so_in_the_version(case):
    schedule(case)
    schedule(case, anchor_on=TODAY + timedelta(days=2))
    review = Review.objects.get(timepoint="months_3")
    assert (review.opens_on - TODAY).days == 72
    assert review.version == 2


def test_conservative_care_is_followed_from_the_decision(case):
    fracture, _, _ = case
    reviews = schedule(case, fracture=fracture)
    assert [r.fracture_id for r in reviews] == [fracture.pk] * 4
    assert schedule(case, fracture=fracture) == reviews


def test_treating_the_fracture_ends_its_open_conservative_contacts(case):
    fracture, procedure, _ = case
    schedule(case, fracture=fracture, anchor_on=TODAY - timedelta(days=40))
    schedule(case)
    left = Review.objects.live().filter(procedure=None).values_list("timepoint", flat=True)
    assert set(left) == {"before", "weeks_2_4"}  # their days had passed
    assert Review.objects.live().filter(procedure=procedure).count() == 4


def test_the_departments_own_protocol_counts_once_it_is_approved(case):
    fracture, procedure, nurse = case
    own = PROTOCOL.as_json()
    own["timepoints"] = [dict(t, asked=t["code"] == "day_1") for t in own["timepoints"]]
    from register.history import acting

    with acting("test"):
        make_protocol(fracture.patient.site, values=own, approved_on=date(2026, 1, 1))
        make_protocol(
            fracture.patient.site, values={}, starts_on=date(2026, 6, 1), proposed_by=nurse
        )
    reviews = reviews_schedule(
        patient=fracture.patient, anchor_on=TODAY, procedure=procedure, user=nurse
    )
    assert [r.timepoint for r in reviews] == ["day_1"]


def test_without_an_approved_protocol_the_shipped_one_is_in_force(case):
    assert values_in_force(site=case[0].patient.site, on=TODAY) == PROTOCOL


@pytest.mark.django_db(transaction=True)
def test_two_at_the_same_time_schedule_once(case):
    """The second waits for the lock on the patient and then finds the contacts."""
    from threading import Thread

    failures = []

    def run():
        try:
            schedule(case)
        except Exception as error:
            failures.append(error)
        finally:
            connections.close_all()

    threads = [Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures
    assert Review.objects.count() == 4
    assert transaction.get_connection().in_atomic_block is False
