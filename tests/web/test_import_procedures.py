"""A list of earlier procedures through the pages: sent, looked at, written, seen on the record."""

from datetime import date

import pytest
from django.urls import reverse

from register.history import acting
from register.models import Procedure
from tests.clock import stop_clock
from tests.factories import make_technique
from tests.procedure_lists import CELLS, TODAY, listed, row
from tests.web.people import make_people
from tests.web.test_imports import page, seen, send


@pytest.fixture
def people(db, monkeypatch):
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        people = make_people()
        make_technique(people.site, name="Balloon tamping", route="balloon")
    return people


def test_a_list_is_written_and_its_procedure_says_where_it_comes_from(people):
    nurse, consultant = people.client("nurse"), people.client("consultant")
    assert "Earlier procedures: " in page(nurse, reverse("referral-imports"))
    file = listed(CELLS, row(Hospital_number="H9", NHS_Number="", Cement_mL="T12 9"))
    address = send(nurse, file, name="old_list.csv", kind="procedures").url
    text = page(nurse, address)
    assert "Procedure date: 14 Mar 2025" in text
    assert "Cement mL: T12 4.5; L1 3.0" in text
    nurse.post(address, seen(nurse, address))
    done = Procedure.objects.get()
    for client in (nurse, consultant):
        text = page(client, reverse("procedure", args=[done.pk]))
        assert "from a list of earlier procedures" in text
        assert "(old_list.csv), entered by" in text
        assert "Operator in the list: R. Inkpen" in text
        assert "<h2>Before signing, record</h2>" not in text
        assert "Sign the record" not in text
    record = page(consultant, reverse("patient-record", args=[done.patient_id]))
    assert "Balloon tamping, R. Inkpen (from a list of earlier procedures)" in record
    assert "Treated before the register began; nothing was assessed here." in record
    assert "are due." not in record
    assert "Not assessed yet" not in record


def test_a_gap_is_filled_as_it_comes_and_what_the_list_said_changes_with_a_reason(people):
    nurse, consultant = people.client("nurse"), people.client("consultant")
    address = send(nurse, listed(row(Note="First line\nSecond line")), kind="procedures").url
    nurse.post(address, seen(nurse, address))
    done = Procedure.objects.get()
    own = reverse("procedure", args=[done.pk])

    def save(**cells):
        form = consultant.get(own).context["page"].form
        typed = {name: form[name].value() or "" for name in form.fields if name != "unusual"}
        typed |= {"version": form.instance.version, "note": "First line\r\nSecond line"}
        for name in ("discharged_on", "readmitted_on"):
            day = getattr(done, name)
            typed |= {f"{name}_{part}": getattr(day, part) for part in ("day", "month", "year")}
        return consultant.post(own, {k: v for k, v in (typed | cells).items() if v is not None})

    assert save(position="prone").status_code == 302
    refused = save(antibiotic="flucloxacillin")
    assert refused.status_code == 422
    assert "what the list of earlier procedures said. Say why it is changed." in refused.text
    assert "Why what is recorded is changed" in refused.text
    assert save(antibiotic="", change_reason="Of another patient").status_code == 302
    assert save(antibiotic="flucloxacillin").status_code == 302
    done.refresh_from_db()
    assert (done.antibiotic, done.operator, done.state) == ("flucloxacillin", None, "earlier")
    assert (done.position, done.discharged_on) == ("prone", date(2025, 3, 15))
