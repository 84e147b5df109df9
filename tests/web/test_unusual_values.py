"""What was said of an unusual value stands beside it wherever it is read."""

import re
from decimal import Decimal

import pytest
from django.urls import reverse

from register.history import acting
from register.models import LaboratoryResult
from tests.clock import stop_clock
from tests.factories import (
    TODAY,
    make_fracture,
    make_measurement,
    make_patient,
    make_procedure,
    make_reading,
    make_referral,
    make_technique,
)
from tests.web.people import People, make_people


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def fracture(people):
    with acting("test"):
        return make_fracture(make_referral(make_patient(people.site)))


def words(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def test_the_record_says_why_a_height_a_finding_and_a_test_are_right(people, fracture):
    with acting("test"):
        reading = make_reading(
            fracture,
            people.users["consultant"],
            retropulsion_mm=Decimal("12.0"),
            unusual={"retropulsion_mm": "seen on CT too"},
        )
        make_measurement(
            reading,
            anterior_height_mm=Decimal("3.0"),
            unusual={"anterior_height_mm": "vertebra plana"},
        )
        LaboratoryResult.objects.create(
            patient=fracture.patient,
            analyte="inr",
            unit="ratio",
            value=Decimal("6.1"),
            taken_on=TODAY,
            unusual={"value": "warfarin, repeated"},
        )
    page = people.client("consultant").get(reverse("patient-record", args=[fracture.patient_id]))
    told = words(page.text)
    assert "3.0 mm unusual: vertebra plana" in told
    assert "unusual: seen on CT too" in told
    assert "unusual: warfarin, repeated" in told


def test_the_operation_record_asks_once_keeps_the_reason_and_shows_it(people, fracture):
    with acting("test"):
        technique = make_technique(people.site)
        procedure = make_procedure(fracture, technique, people.users["consultant"])
    level = procedure.levels.get()
    consultant = people.client("consultant")
    cement = {f"cement-{level.pk}-side": "left", f"cement-{level.pk}-volume_ml": "7.5"}
    address = reverse("cement-new", args=[level.pk])
    asked = consultant.post(address, cement)
    assert asked.status_code == 422
    assert "Volume: 7.5 mL is unusual; most lie between 0.5 and 6 mL" in asked.text
    assert "(common practice; confirm locally)" in asked.text
    assert 'value="7.5"' in asked.text
    consultant.post(address, cement | {f"cement-{level.pk}-volume_ml_unlikely": "large cleft"})
    assert level.cement.get().unusual == {"volume_ml": "large cleft"}
    page = consultant.get(reverse("procedure", args=[procedure.pk]))
    assert "7.5 unusual: large cleft" in words(page.text)


def test_the_operation_record_keeps_vital_signs_times_and_what_came_after(people, fracture):
    with acting("test"):
        technique = make_technique(people.site)
        procedure = make_procedure(fracture, technique, people.users["consultant"])
    consultant = people.client("consultant")
    sent = {
        "version": "1", "operator": people.users["consultant"].pk, "in_room_at": "8:05",
        "needle_at": "0830", "ended_at": "09.10", "lowest_spo2_percent": "91",
        "systolic_fall_percent": "20", "consciousness_lost": "no", "room_temperature_c": "21.5",
        "dose_area_gy_cm2_absent": "not_known", "discharged_on_day": "7",
        "discharged_on_month": "mar", "discharged_on_year": "2027",
    }  # fmt: skip
    address = reverse("procedure", args=[procedure.pk])
    wrong = consultant.post(address, sent | {"ended_at": "08:00"})
    assert "End: must not be before 08:30 (First needle)." in wrong.text
    assert consultant.post(address, sent | {"needle_at": "123"}).status_code == 422
    assert consultant.post(address, sent).status_code == 302
    procedure.refresh_from_db()
    assert f"{procedure.in_room_at:%H:%M} {procedure.needle_at:%H:%M}" == "08:05 08:30"
    assert procedure.lowest_spo2_percent == 91
    assert procedure.consciousness_lost is False
    assert procedure.absent == {"dose_area_gy_cm2": "not_known"}
    assert procedure.discharged_on == TODAY
