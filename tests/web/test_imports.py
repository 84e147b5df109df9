"""Files that are sent in, through their pages."""

import csv
import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from register.history import acting
from register.imports.kinds import KINDS
from register.imports.reading import table_in
from register.models import ColumnMapping, FileImport, Patient
from register.selectors.import_progress import patience_words
from register.services.import_progress import progress_told
from tests.clock import stop_clock
from tests.factories import make_patient
from tests.referral_files import CELLS, NHS, TODAY, another, changed, workbook, written
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


def send(client, content: bytes, order: str = "dmy", name: str = "march.csv", **more: str):
    file = SimpleUploadedFile(name, content, content_type="text/csv")
    return client.post(LIST, {"kind": "referrals", "file": file, "date_order": order} | more)


def sent(client, *rows, **options) -> str:
    """Send a file in and return the address of its preview."""
    answer = send(client, written(rows, **options))
    assert answer.status_code == 302
    return answer.url


def page(client, address: str) -> str:
    return client.get(address).content.decode()


def seen(client, address: str) -> dict[str, str]:
    """Return what the button of a preview sends."""
    context = client.get(address).context
    return {"seen": context["preview"].seal, "version": str(context["kept"].version)}


def test_a_file_is_kept_previewed_and_written_on_confirmation_only(nurse):
    address = sent(nurse, CELLS, another())
    assert Patient.objects.count() == 0
    text = page(nurse, address)
    assert "ZOËBECK, Maud" in text
    assert "Date of birth 11 May 1942" in text
    assert "04 Mar 2027" in text
    assert "Write 2 rows" in text
    answer = nurse.post(address, seen(nurse, address), follow=True)
    assert "march.csv: written." in answer.content.decode()
    assert Patient.objects.count() == 2
    assert "Confirmed on 07 Mar 2027, 12:00 by" in answer.content.decode()


def test_a_preview_asked_for_again_and_again_changes_no_row(nurse):
    address = sent(nurse, CELLS)
    before = (FileImport.objects.count(), Patient.objects.count())
    for _ in range(3):
        assert nurse.get(address).status_code == 200
    assert (FileImport.objects.count(), Patient.objects.count()) == before


def test_a_file_that_cannot_be_read_comes_back_with_the_reason(nurse):
    answer = send(nurse, written([CELLS])[:-9] + b"\xc3")
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
    shown = seen(nurse, address)
    with acting("test"):
        make_patient(people.site, nhs_number=NHS, hospital_number="H00104711", family_name="Other")
    answer = nurse.post(address, shown)
    text = answer.content.decode()
    assert answer.status_code == 409
    assert "Row 2 was “new” and is now “a person must decide”." in text
    assert Patient.objects.count() == 1


def test_a_second_press_of_the_button_writes_nothing_twice(nurse):
    address = sent(nurse, CELLS)
    shown = seen(nurse, address)
    nurse.post(address, shown)
    answer = nurse.post(address, shown)
    assert "confirmed already" in answer.content.decode()
    assert Patient.objects.count() == 1


def columns(client, address: str) -> dict[str, str]:
    """Return the answers about the columns as the page offers them, before anybody chooses."""
    form = client.get(f"{address}reading/").context["columns"]
    return {field.html_name: field.initial or "" for _, field in form.lines} | {
        "choose": "yes",
        "version": str(client.get(f"{address}reading/").context["kept"].version),
    }


def answer_for(client, address: str, label: str) -> str:
    """Return the name of the box of one column of the file."""
    form = client.get(f"{address}reading/").context["columns"]
    return next(field.html_name for question, field in form.lines if question.label == label)


RENAMED = [{"Date of birth": "DOB", "Levels": "Fractured at"}.get(name, name) for name in CELLS]


def test_renamed_columns_are_asked_once_and_read_like_that_the_next_time(nurse):
    address = sent(nurse, CELLS, head=RENAMED)
    assert nurse.get(address).url == f"{address}reading/"
    text = page(nurse, f"{address}reading/")
    assert "perhaps Date of birth" in text
    assert "11 May 1942" in text
    chosen = columns(nurse, address)
    dob, levels = (answer_for(nurse, address, label) for label in ("DOB", "Fractured at"))
    assert (chosen[dob], chosen[levels]) == ("", "")

    answer = nurse.post(f"{address}reading/", chosen)
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "they are needed: Date of birth, Levels." in text
    assert "“DOB”: say what it holds" in text

    answer = nurse.post(f"{address}reading/", chosen | {dob: "Date of birth", levels: "Levels"})
    assert answer.url == address
    assert "Read as on 07 Mar 2027 by" in page(nurse, address)
    nurse.post(address, seen(nurse, address))
    assert str(Patient.objects.get().date_of_birth) == "1942-05-11"

    again = sent(nurse, another(), head=RENAMED)
    assert "Read as on 07 Mar 2027 by" in page(nurse, again)
    assert ColumnMapping.objects.count() == 1


def test_a_choice_that_is_changed_sets_the_former_one_aside(nurse):
    address = sent(nurse, CELLS | {"Bed": "7"}, names=[*CELLS, "Bed"])
    bed = answer_for(nurse, address, "Bed")
    nurse.post(f"{address}reading/", columns(nurse, address) | {"columns-rest": "on"})
    assert "<strong>Not read:</strong> Bed." in page(nurse, address)
    nurse.post(f"{address}reading/", columns(nurse, address) | {bed: "Postcode"})
    assert "Not read" not in page(nurse, address)
    assert [m.mapping["Bed"] for m in ColumnMapping.objects.live()] == ["Postcode"]
    assert ColumnMapping.objects.count() == 2


def test_a_column_that_stands_twice_is_chosen(nurse):
    address = sent(nurse, CELLS, names=[*CELLS, "Levels"])
    first, second = (answer_for(nurse, address, f"Levels (column {at})") for at in "GJ")
    twice = columns(nurse, address) | {first: "Levels", second: "Levels"}
    assert "chosen for two columns" in nurse.post(f"{address}reading/", twice).content.decode()
    nurse.post(f"{address}reading/", twice | {second: "-"})
    assert "ZOËBECK, Maud" in page(nurse, address)


def test_columns_can_be_chosen_for_a_file_that_fits_and_nothing_is_taken_from_an_old_page(nurse):
    address = sent(nurse, CELLS)
    old = columns(nurse, address)
    new = old | {answer_for(nurse, address, "Onset date"): "-"}
    assert nurse.post(f"{address}reading/", new).status_code == 302
    assert "Onset date:" not in page(nurse, address)
    answer = nurse.post(f"{address}reading/", old)
    assert answer.status_code == 422
    assert "meanwhile" in answer.content.decode()


def test_a_file_read_in_another_way_is_not_confirmed_by_an_old_preview(nurse):
    address = sent(nurse, changed(Referral_date="03/04/2026", Onset_date="Feb 2026"))
    shown = seen(nurse, address)
    kept = FileImport.objects.get()
    answer = nurse.post(
        f"{address}reading/", {"read": "yes", "file-date_order": "mdy", "version": kept.version}
    )
    assert answer.status_code == 302
    assert "is <b>04 Mar 2026</b>" in page(nurse, address)
    assert "was changed since this page" in nurse.post(address, shown).content.decode()
    assert Patient.objects.count() == 0


def test_an_order_that_does_not_fit_is_told_where_it_is_declared(nurse):
    address = sent(nurse, changed(Referral_date="13/02/2027", Onset_date="Feb 2027"))
    said = {"read": "yes", "file-date_order": "mdy", "version": "1"}
    answer = nurse.post(f"{address}reading/", said)
    assert answer.status_code == 422
    assert "is one when read day first" in answer.content.decode()
    assert FileImport.objects.get().date_order == "dmy"


def test_letters_that_only_a_person_can_vouch_for_are_shown_and_must_be_found_right(nurse):
    address = sent(nurse, CELLS, encoding="cp1252")
    text = page(nurse, address)
    assert "letters-title" in text
    assert "<li>Zoëbeck</li>" in text
    assert "Write 1 row" not in text
    answer = nurse.post(address, seen(nurse, address))
    assert "not settled" in answer.content.decode()
    assert Patient.objects.count() == 0
    nurse.post(f"{address}letters/", {"version": seen(nurse, address)["version"]})
    assert "letters-title" not in page(nurse, address)
    nurse.post(address, seen(nurse, address))
    assert Patient.objects.get().family_name == "Zoëbeck"


def test_two_dates_that_could_be_read_two_ways_are_shown_in_words(nurse):
    cells = changed(Date_of_birth="21/05/1942", Referral_date="04/03/2027", Onset_date="03/02/2027")
    text = page(nurse, sent(nurse, cells))
    assert "row 2, Referral date: “04/03/2027” is <b>04 Mar 2027</b>" in text
    assert "row 2, Onset date: “03/02/2027” is <b>03 Feb 2027</b>" in text
    assert "21/05/1942” is" not in text


def test_a_workbook_with_several_sheets_asks_which_one(nurse):
    book = workbook([CELLS], more={"Other": [["a", "b"], ["1", "2"]], "Third": [["c", "d"]]})
    address = send(nurse, book).url
    assert "ZOËBECK" in page(nurse, address)
    assert "Not read: the other sheets, “Other”, “Third”." in page(nurse, address)
    book = workbook([CELLS], more={"Old": [list(CELLS), list(another().values())]})
    address = send(nurse, book).url
    assert nurse.get(address).url == f"{address}reading/"
    assert "Which sheet is read?" in page(nurse, f"{address}reading/")
    said = {"read": "yes", "file-date_order": "dmy", "version": "1"}
    assert "Say which sheet" in nurse.post(f"{address}reading/", said).content.decode()
    assert nurse.post(f"{address}reading/", said | {"file-sheet": "Old"}).url == address
    assert "ZOËBECK, Beryl" in page(nurse, address)


def test_refused_rows_of_a_workbook_come_back_as_a_workbook_with_the_same_reasons(nurse):
    number = changed(Hospital_number=104711, Family_name="=1+1", Onset_date="31 Jun 2026")
    head = [*RENAMED[:-1], "Pain"]
    address = send(nurse, workbook([CELLS, number], head=head)).url
    chosen = columns(nurse, address)
    for label, name in zip(head, CELLS, strict=True):
        chosen[answer_for(nurse, address, label)] = name
    nurse.post(f"{address}reading/", chosen)
    reasons = nurse.get(f"{address}?show=refused").context["lines"][0].reasons
    assert len(reasons) == 2
    answer = nurse.get(f"{address}refused/")
    assert ".xlsx" in answer["Content-Disposition"]
    again = send(nurse, answer.content).url
    line = nurse.get(again).context["lines"][0]
    assert (line.who, line.reasons) == ("=1+1, Maud", reasons)
    assert nurse.get(again).context["preview"].file.head.unknown == ()


def test_empty_files_of_every_kind_can_be_taken(nurse):
    text = page(nurse, LIST)
    for code, kind in KINDS.items():
        for form in ("csv", "xlsx"):
            address = reverse("referral-import-empty", args=[code, form])
            assert address in text
            head = table_in(nurse.get(address).content, kind=kind).head
            assert list(head) == [column.name for column in kind.columns]
    assert nurse.get("/imports/empty/nothing.csv").status_code == 404
    assert nurse.get("/imports/empty/referrals.pdf").status_code == 404


def test_nobody_is_told_of_progress_while_nobody_writes(nurse):
    address = sent(nurse, CELLS)
    assert "progress" not in page(nurse, f"{address}progress/")
    assert f'data-progress="{address}progress/"' in page(nurse, address)


def test_whoever_opens_a_file_that_is_being_written_sees_how_far_it_has_come(nurse):
    address = sent(nurse, CELLS)
    shown = seen(nurse, address)
    kept = FileImport.objects.get()
    with progress_told(kept) as tell:
        tell(1000, 4000)
        looked_at_again()
        text = page(nurse, address)
        assert "1,000 of 4,000 records written" in text
        assert "Write 1 row" not in text
        answer = nurse.post(address, shown)  # in another tab
        assert answer.status_code == 409
        assert "Closing this page does not stop it" in answer.content.decode()
        assert 'value="1000"' in page(nurse, f"{address}progress/")
        tell(0, 0)
        looked_at_again()
        assert "the rows are compared once more" in page(nurse, f"{address}progress/")
    assert Patient.objects.count() == 0


def looked_at_again() -> None:
    """Forget what this transaction saw of other connections: a page is one of its own."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_clear_snapshot()")


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (1, ""),
        (1_499, ""),
        (1_500, "This may take 5 seconds."),
        (10_000, "This may take 20 seconds."),
    ],
)
def test_a_large_file_says_how_long_the_writing_may_take(rows, words):
    assert patience_words(rows).startswith(words)
    assert bool(patience_words(rows)) is bool(words)


def test_the_same_file_sent_again_is_told(nurse):
    first = sent(nurse, CELLS)
    nurse.post(first, seen(nurse, first))
    second = sent(nurse, CELLS)
    assert second != first
    text = page(nurse, second)
    assert "This very file was confirmed on 07 Mar 2027" in text
    assert "there is nothing to write" in text


def test_refused_rows_can_be_taken_with_their_reasons(nurse):
    address = sent(nurse, CELLS, another(Levels="D12", Family_name="=1+1"))
    answer = nurse.get(f"{address}refused/")
    rows = list(csv.reader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert rows[0][0] == "Why it was refused"
    assert "“D12” is not a level" in rows[1][0]
    assert rows[1][3] == "'=1+1"
    assert "attachment" in answer["Content-Disposition"]
    nurse.post(address, seen(nurse, address))
    assert nurse.get(f"{address}refused/").content == answer.content


def test_the_rows_can_be_filtered_without_names_in_the_address(nurse):
    address = sent(nurse, CELLS, another(Levels="D12"))
    assert "Maud" not in page(nurse, f"{address}?show=refused")
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
    for tail in ("", "aside/", "refused/"):
        assert client.post(address + tail).status_code == 403


def test_a_file_of_another_site_is_not_there(nurse):
    address = sent(nurse, CELLS)
    with acting("test"):
        other = make_people().client("nurse")
    for tail in ("", "refused/"):
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
