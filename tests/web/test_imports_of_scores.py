"""Files of follow-up scores, through their pages."""

import csv
import io
from datetime import date

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from register.history import acting
from register.imports.kinds import KINDS
from register.models import Review
from tests.clock import stop_clock
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_technique,
)
from tests.referral_files import NHS, TODAY, written
from tests.score_files import CELLS, changed
from tests.web.follow_up import address as page_of
from tests.web.follow_up import boxes, typed, values
from tests.web.people import make_people

LIST = reverse("referral-imports")
OPERATED = date(2027, 2, 8)  # the contact of CELLS is on its day 21
HELD = date(2027, 3, 1)


@pytest.fixture
def people(db, monkeypatch):
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        people = make_people()
        patient = make_patient(
            people.site,
            hospital_number="H00104711",
            nhs_number=NHS,
            family_name="Zoëbeck",
            given_name="Maud",
            date_of_birth=date(1942, 5, 11),
        )
        fracture = make_fracture(make_referral(patient, onset_on=None))
        technique = make_technique(people.site, name="Balloon tamping")
        procedure = make_procedure(
            fracture, technique, people.users["consultant"], performed_on=OPERATED
        )
        make_review(procedure)
    return people


def send(client, *rows):
    content = written(rows, names=CELLS)
    file = SimpleUploadedFile("clinic.csv", content, content_type="text/csv")
    return client.post(LIST, {"kind": "scores", "file": file, "date_order": "dmy"})


@pytest.mark.parametrize("role", ["nurse", "consultant"])
def test_a_clinic_is_sent_looked_at_confirmed_and_undone(people, role):
    client = people.client(role)
    address = send(client, CELLS, changed(Pain_now="11")).url
    text = client.get(address).content.decode()
    assert "“2 to 4 weeks” after Balloon tamping, L1, of 08 Feb 2027." in text
    assert "Pain now is a whole number from 0 to 10" in text
    assert "Contact date: 01 Mar 2027" in text
    context = client.get(address).context
    seen = {"seen": context["preview"].seal, "version": str(context["kept"].version)}
    outcome = client.post(address, seen, follow=True).content.decode()
    assert "To the list of contacts due" in outcome
    undo = reverse("import-undo", args=[context["kept"].pk])
    assert "ZOËBECK, Maud" in client.get(undo).content.decode()
    restored = client.get(f"{undo}?show=restored").context
    [line] = restored["lines"]
    assert line.becomes.startswith("held: 01 Mar 2027 → not recorded; mode: telephone → not rec")
    typed = {"seen": restored["plan"].seal, "reason": "the clinic of another week"}
    assert "import undone" in client.post(undo, typed, follow=True).content.decode()
    assert Review.objects.get().held_on is None


def written_by_file(client, *rows):
    """Send rows and confirm them; return the kept file."""
    address = send(client, *rows).url
    context = client.get(address).context
    seen = {"seen": context["preview"].seal, "version": str(context["kept"].version)}
    assert client.post(address, seen).status_code == 302
    return context["kept"]


def undone(client, kept):
    undo = reverse("import-undo", args=[kept.pk])
    seen = client.get(undo).context["plan"].seal
    client.post(undo, {"seen": seen, "reason": "the clinic of another week"})


def conflict_of(client, contact, sent):
    """Save a page that was opened before; return what it tells of both values."""
    answer = client.post(page_of(contact), sent)
    assert answer.status_code == 422
    told = answer.context["form"].conflict.differences
    return {one.label: (one.theirs, one.yours, one.is_kept) for one in told}


def test_a_page_opened_before_a_file_changed_a_score_meets_both_values(people):
    nurse, other = people.client("nurse"), people.client("consultant")
    written_by_file(other, CELLS)
    contact = Review.objects.get()
    as_read = {"pain_now": "3", "pain_worst": "5", "analgesic_step": "1", "mobility": "3"}
    left_alone = as_read | {"falls": "", "falls_absent": "not_known"} | boxes("held_on", HELD)
    opened = typed(nurse, contact, **left_alone)
    typing = opened | {"pain_worst": "7"}
    kept = written_by_file(other, changed(Pain_now="2", Worst_pain="4"))
    told = conflict_of(nurse, contact, typing)
    assert told["Pain now"] == ("2", "3", True)
    assert told["Worst pain in the last week"] == ("4", "7", False)
    assert (values(contact)["pain_now"], values(contact)["pain_worst"]) == (2, 4)
    opened = typed(nurse, contact, **left_alone | {"pain_now": "2", "pain_worst": "4"})
    undone(other, kept)
    told = conflict_of(nurse, contact, opened)
    assert told["Pain now"] == ("3", "2", True)
    assert values(contact)["pain_now"] == 3


@pytest.mark.parametrize("role", ["lead", "administrator"])
def test_nobody_else_sends_scores(people, role):
    assert send(people.client(role), CELLS).status_code == 403


def test_the_page_offers_scores_with_empty_files(people):
    client = people.client("nurse")
    text = client.get(LIST).content.decode()
    assert 'value="scores"' in text
    assert "Follow-up scores: " in text
    address = reverse("referral-import-empty", args=["scores", "csv"])
    rows = list(csv.reader(io.StringIO(client.get(address).content.decode("utf-8-sig"))))
    assert rows == [[column.name for column in KINDS["scores"].columns]]
