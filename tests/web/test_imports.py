"""Referral files through their pages."""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from register.history import acting
from register.models import FileImport, Patient
from tests.clock import stop_clock
from tests.factories import make_patient
from tests.referral_files import CELLS, NHS, TODAY, another, changed, written
from tests.web.people import People, make_people

LIST = reverse("referral-imports")


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people):
    return people.client("nurse")


def send(client, content: bytes, order: str = "dmy", name: str = "march.csv"):
    file = SimpleUploadedFile(name, content, content_type="text/csv")
    return client.post(LIST, {"file": file, "date_order": order})


def sent(client, *rows, **options) -> str:
    """Send a file in and return the address of its preview."""
    answer = send(client, written(rows, **options))
    assert answer.status_code == 302
    return answer.url


def page(client, address: str) -> str:
    return client.get(address).content.decode()


def seal(client, address: str) -> str:
    return client.get(address).context["preview"].seal


def test_a_file_is_kept_previewed_and_written_on_confirmation_only(nurse):
    address = sent(nurse, CELLS, another())
    assert Patient.objects.count() == 0
    text = page(nurse, address)
    assert "ZOËBECK, Maud" in text
    assert "born 11 May 1942" in text
    assert "04 Mar 2027" in text
    assert "Write 2 referrals" in text
    answer = nurse.post(address, {"seen": seal(nurse, address)}, follow=True)
    assert "march.csv: referrals written." in answer.content.decode()
    assert Patient.objects.count() == 2
    assert "Confirmed on 07 Mar 2027, 12:00 by" in answer.content.decode()


def test_a_preview_asked_for_again_and_again_changes_no_row(nurse):
    address = sent(nurse, CELLS)
    before = (FileImport.objects.count(), Patient.objects.count())
    for _ in range(3):
        assert nurse.get(address).status_code == 200
    assert (FileImport.objects.count(), Patient.objects.count()) == before


def test_a_file_that_cannot_be_read_comes_back_with_the_reason(nurse):
    answer = send(nurse, written([CELLS], encoding="cp1252"))
    assert answer.status_code == 422
    assert "unknown code" in answer.content.decode()
    assert FileImport.objects.count() == 0


def test_a_large_file_is_refused_before_it_is_read(nurse):
    answer = send(nurse, b"x" * (5 * 1024 * 1024 + 1))
    assert answer.status_code == 422
    assert "larger than 5 MB" in answer.content.decode()


@pytest.mark.parametrize("data", [{}, {"date_order": "dmy"}, {"date_order": "xyz"}])
def test_a_form_without_a_file_says_what_to_do(nurse, data):
    answer = nurse.post(LIST, data)
    assert answer.status_code == 422
    assert "Choose the file to send." in answer.content.decode()


def test_what_changed_since_the_preview_is_shown_and_nothing_is_written(people, nurse):
    address = sent(nurse, CELLS, another())
    seen = seal(nurse, address)
    with acting("test"):
        make_patient(people.site, nhs_number=NHS, hospital_number="H00104711", family_name="Other")
    answer = nurse.post(address, {"seen": seen})
    text = answer.content.decode()
    assert answer.status_code == 409
    assert "Row 2 was “new” and is now “a person must decide”." in text
    assert Patient.objects.count() == 1


def test_a_second_press_of_the_button_writes_nothing_twice(nurse):
    address = sent(nurse, CELLS)
    seen = seal(nurse, address)
    nurse.post(address, {"seen": seen})
    answer = nurse.post(address, {"seen": seen})
    assert "confirmed already" in answer.content.decode()
    assert Patient.objects.count() == 1


def test_columns_that_are_not_read_stand_on_top(nurse):
    text = page(nurse, sent(nurse, CELLS | {"Postcod": "X"}, names=[*CELLS, "Postcod"]))
    assert "Postcod (perhaps “Postcode” is meant)" in text
    assert "Nothing of these columns reaches the register." in text


def test_the_same_file_sent_again_is_told(nurse):
    first = sent(nurse, CELLS)
    nurse.post(first, {"seen": seal(nurse, first)})
    second = sent(nurse, CELLS)
    assert second != first
    text = page(nurse, second)
    assert "This very file was confirmed on 07 Mar 2027" in text
    assert "there is nothing to write" in text


def test_refused_rows_can_be_taken_with_their_reasons(nurse):
    address = sent(nurse, CELLS, another(Levels="D12", Family_name="=1+1"))
    answer = nurse.get(f"{address}refused.csv")
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0][0] == "Why it was refused"
    assert "“D12” is not a level" in rows[1][0]
    assert rows[1][3] == "'=1+1"
    assert "attachment" in answer["Content-Disposition"]
    nurse.post(address, {"seen": seal(nurse, address)})
    assert nurse.get(f"{address}refused.csv").content == answer.content


def test_the_rows_can_be_filtered_without_names_in_the_address(nurse):
    address = sent(nurse, CELLS, another(Levels="D12"))
    assert "ZOËBECK" not in page(nurse, f"{address}?show=refused")
    assert "D12" not in page(nurse, f"{address}?show=new")
    assert "No row of this kind." in page(nurse, f"{address}?show=same")


def test_a_file_can_be_set_aside(nurse):
    address = sent(nurse, CELLS)
    assert nurse.get(f"{address}aside/").status_code == 405
    nurse.post(f"{address}aside/")
    assert nurse.get(address).status_code == 404
    assert Patient.objects.count() == 0


@pytest.mark.parametrize("role", ["lead", "administrator"])
def test_others_neither_see_nor_send_files(people, nurse, role):
    address = sent(nurse, CELLS)
    client = people.client(role)
    for got in (client.get(LIST), client.get(address), send(client, written([CELLS]))):
        assert got.status_code == 403
    for tail in ("", "aside/", "refused.csv"):
        assert client.post(address + tail).status_code == 403


def test_a_file_of_another_site_is_not_there(nurse):
    address = sent(nurse, CELLS)
    with acting("test"):
        other = make_people().client("nurse")
    for tail in ("", "refused.csv"):
        assert other.get(address + tail).status_code == 404
    assert other.post(address, {"seen": "n"}).status_code == 404
    assert "march.csv" not in page(other, LIST)


def test_the_list_takes_the_same_queries_for_three_and_three_hundred_files(people, nurse):
    user = people.users["nurse"]

    def add(count: int) -> None:
        with acting("test"):
            FileImport.objects.bulk_create(
                FileImport(
                    site=people.site,
                    file_name=f"{n}.csv",
                    sha256=str(n),
                    content=b"x",
                    uploaded_by=user,
                )
                for n in range(count)
            )

    def queries() -> int:
        with CaptureQueriesContext(connection) as counted:
            assert nurse.get(LIST).status_code == 200
        return len(counted)

    nurse.get(LIST)
    add(3)
    few = queries()
    add(297)
    assert queries() == few


def test_a_preview_takes_the_same_queries_for_three_and_three_hundred_rows(nurse):
    def queries(count: int) -> int:
        rows = [
            another(Hospital_number=f"Q{count}-{n}", NHS_Number="", Given_name=f"Ann{n}")
            for n in range(count)
        ]
        address = sent(nurse, *rows)
        with CaptureQueriesContext(connection) as counted:
            assert nurse.get(address).status_code == 200
        return len(counted)

    sent(nurse, changed(Given_name="Warm"))
    assert queries(3) == queries(300)
