"""What the tests of follow-up share: a contact that is due, and what its page sends."""

from datetime import timedelta

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import localdate

from register.models import Review, Score
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_technique,
    make_user,
)

DUE = reverse("follow-up-due")
PAGES = ("review", "attempt-new")
TODAY = localdate()


def make_contact(site, patient=None, ago=20, technique=None, operator=None, **fields) -> Review:
    """The contact 2 to 4 weeks after a procedure that many days ago."""
    patient = patient or make_patient(site)
    fracture = make_fracture(make_referral(patient, onset_on=None, onset_precision=""))
    technique = technique or make_technique(site, name=f"Balloon tamping {patient.pk}")
    procedure = make_procedure(
        fracture,
        technique,
        operator or make_user(site, "consultant"),
        performed_on=TODAY - timedelta(ago),
    )
    return make_review(procedure, **fields)


def address(contact, name="review"):
    return reverse(name, args=[contact.pk])


def boxes(name, day):
    return {f"{name}_day": day.day, f"{name}_month": day.month, f"{name}_year": day.year}


def typed(client, contact, **changes):
    """What the page sends when its boxes are filled; taken from the page itself."""
    form = client.get(address(contact)).context["form"]
    scores = {code: "1" for code in form.entry.asked}
    return (
        {
            "token": form["token"].value(),
            "version": form["version"].value(),
            "held_on_day": str(TODAY.day),
            "held_on_month": str(TODAY.month),
            "held_on_year": str(TODAY.year),
            "mode": "telephone",
            "informant": "patient",
            "red_flag_check": "none",
        }
        | scores
        | changes
    )


def values(contact):
    return {s.instrument: s.value for s in Score.objects.live().filter(review=contact)}


def words(answer) -> str:
    return answer.content.decode()


def queries(client, url):
    with CaptureQueriesContext(connection) as log:
        answer = client.get(url)
    assert answer.status_code == 200
    return [query["sql"] for query in log.captured_queries]


def end(contact):
    return reverse("follow-up-end", args=[contact.patient_id])
