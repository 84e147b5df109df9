"""Who opens the record of a patient, and what is kept of it."""

import pytest
from django.urls import reverse

from register.history import acting
from register.models import AccessLog
from tests.factories import make_site
from tests.web.record import a_fracture, assess, get, record, text


@pytest.fixture
def fracture(people):
    return a_fracture(people)


def test_opening_a_record_is_logged_without_naming_anybody(people, fracture):
    get(people, record(fracture), "nurse")

    entry = AccessLog.objects.get()
    assert (entry.user, entry.patient) == (people.users["nurse"], fracture.patient)
    assert (entry.page, entry.reason) == ("patient-record", "")


def test_the_governance_lead_gives_a_reason_first(people, fracture):
    client = people.client("lead")
    asked = client.get(record(fracture), follow=True)
    assert "Why do you open this record?" in text(asked)
    assert "Arden" not in asked.content.decode().title()
    assert not AccessLog.objects.exists()

    url = reverse("record-reason", args=[fracture.patient_id])
    assert client.post(url, {"reason": "check"}).status_code == 422
    assert client.get(record(fracture)).status_code == 302

    reason = "Review of a complication reported in March"
    opened = client.post(url, {"reason": reason}, follow=True)

    assert "ARDEN" in text(opened)
    assert AccessLog.objects.get().reason == reason
    assert "Your role reads this record and changes nothing in it." in text(opened)


def test_a_reason_holds_for_one_patient_only(people, fracture):
    other = a_fracture(people)
    client = people.client("lead")
    client.post(
        reverse("record-reason", args=[fracture.patient_id]), {"reason": "Review of an incident"}
    )

    assert client.get(record(fracture)).status_code == 200
    assert client.get(record(other)).status_code == 302


def test_the_lead_may_press_nothing_on_the_record(people, fracture):
    assess(people, fracture)
    client = people.client("lead")
    client.post(
        reverse("record-reason", args=[fracture.patient_id]), {"reason": "Review of an incident"}
    )

    html = client.get(record(fracture)).content.decode()
    main = html[html.index("<main") : html.index("</main>")]

    assert "<form" not in main
    assert reverse("decide", args=[fracture.pk]) not in main


def test_the_administrator_sees_no_patient(people, fracture):
    assert people.client("administrator").get(record(fracture)).status_code == 403


@pytest.mark.parametrize("name", ["patient-record", "urgency", "assess", "decide", "assessment"])
def test_another_departments_patient_does_not_exist(people, name):
    with acting("test"):
        stranger = a_fracture(people, site=make_site())
    made = assess(people, stranger)
    key = {"patient-record": stranger.patient_id, "assessment": made.pk}.get(name, stranger.pk)
    method = "post" if name in ("urgency", "assess") else "get"

    response = getattr(people.client("consultant"), method)(reverse(name, args=[key]))

    assert response.status_code == 404
