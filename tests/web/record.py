"""What the tests of the patient record share: a fracture, its reading, its page."""

import re
from datetime import timedelta

from django.urls import reverse
from django.utils.timezone import localdate

from planning.services.assessments import assessment_record
from register.history import acting
from tests.factories import make_fracture, make_patient, make_reading, make_referral

DAY = timedelta(days=1)


def a_fracture(people, *, site=None, **referral):
    today = localdate()
    known = {"referred_on": today - 5 * DAY, "onset_on": today - 26 * DAY}
    with acting("test"):
        patient = make_patient(site or people.site, family_name="Arden")
        return make_fracture(make_referral(patient, **(known | referral)))


def read(people, fracture, **fields):
    fields.setdefault("read_on", localdate() - DAY)
    with acting("test"):
        return make_reading(fracture, people.users["consultant"], **fields)


def assess(people, fracture):
    with acting("test"):
        return assessment_record(
            fracture=fracture, made_by=people.users["consultant"], as_of=localdate()
        )


def record(fracture):
    return reverse("patient-record", args=[fracture.patient_id])


def get(people, url, role="consultant"):
    response = people.client(role).get(url)
    assert response.status_code == 200
    return response


def text(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))
