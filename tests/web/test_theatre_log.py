"""The theatre log compared with the register, through its pages."""

import re
from datetime import date, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from planning.record_kinds import BY_CODE
from planning.services.aside import record_aside
from register.history import acting
from register.models import AccessLog, FileImport, Patient, Procedure, Technique, TheatreLogEntry
from tests.factories import make_patient, make_site, make_technique
from tests.theatre_log_files import DAY, TODAY
from tests.web.people import People, make_people

PAGE = reverse("theatre-log")
QUARTER = "first_day=1&first_month=Jan&first_year=2027&last_day=31&last_month=Mar&last_year=2027"
REASON = "Checking which operations are not recorded"


@pytest.fixture
def people(db, monkeypatch) -> People:
    monkeypatch.setattr("reports.views.theatre_log.localdate", lambda: TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def client(people):
    return people.client("consultant")


@pytest.fixture
def procedure(people) -> Procedure:
    with acting("test"):
        patient = make_patient(people.site, hospital_number="H0471", family_name="Zoëbeck")
        return performed(people, patient, make_technique(people.site))


def performed(people: People, patient: Patient, technique: Technique, day: date = DAY) -> Procedure:
    return Procedure.objects.create(
        patient=patient, technique=technique, operator=people.users["consultant"], performed_on=day
    )


def logged(site, reference: str, day: date = DAY, **fields: Any) -> TheatreLogEntry:
    given = {"hospital_number": f"X{reference}", "procedure_words": "Cement augmentation"}
    with acting("test"):
        return TheatreLogEntry.objects.create(
            site=site, reference=reference, performed_on=day, **given | fields
        )


def text(answer) -> str:
    return " ".join(answer.content.decode().replace("\xa0", " ").replace("\u202f", " ").split())


def test_each_line_and_procedure_stands_in_one_list_and_the_shares_have_denominators(
    people, client, procedure
):
    logged(people.site, "1", procedure=procedure, hospital_number="H0471")
    for number in range(2, 5):
        logged(people.site, str(number))
    logged(
        people.site, "5", not_ours_because="Hip replacement", settled_by=people.users["consultant"]
    )
    logged(people.site, "6", day=DAY - timedelta(days=90))
    logged(make_elsewhere(), "7")
    with acting("test"):
        other = make_patient(people.site, family_name="Unnamed")
        performed(people, other, procedure.technique)
    counts = client.get(f"{PAGE}?{QUARTER}").context["compared"].counts
    assert (counts.lines, counts.not_ours, counts.to_be_found) == (5, 1, 4)
    assert (counts.found, counts.open, counts.procedures, counts.named) == (1, 3, 2, 1)
    told = {
        show: len(client.get(f"{PAGE}?{QUARTER}&show={show}").context["rows"])
        for show in ("open", "found", "not-ours", "unnamed")
    }
    assert told == {"open": 3, "found": 1, "not-ours": 1, "unnamed": 1}
    page = text(client.get(f"{PAGE}?{QUARTER}"))
    assert "January to March 2027: 1 of 4 lines (too few to tell) found in the register." in page
    assert "1 of 2 procedures (too few to tell) named by the log, 1 not" in page
    assert "UNNAMED, Maud" in text(client.get(f"{PAGE}?{QUARTER}&show=unnamed"))


def make_elsewhere():
    with acting("test"):
        return make_site()


def test_a_share_of_five_and_more_has_its_interval(people, client, procedure):
    for number in range(1, 7):
        logged(people.site, str(number))
    with acting("test"):
        TheatreLogEntry.objects.filter(reference__in="12345").update(procedure=procedure)
    # Five lines of one operation: design effect 10 / 3, so Wilson limits at n = 1.8, by hand.
    assert "5 of 6 lines (83 %, 95 % interval 22 to 99 %)" in text(client.get(PAGE))
    with acting("test"):
        TheatreLogEntry.objects.filter(reference="1").update(
            voided_at="2027-03-05T10:00Z", void_reason="Twice"
        )
    assert "4 of 5 lines (80 %, 95 % interval" in text(client.get(PAGE))


def test_procedures_outside_the_days_of_the_log_are_not_held_against_it(people, client, procedure):
    page = text(client.get(f"{PAGE}?{QUARTER}"))
    assert "Recorded procedures: 1. Without a line of the log nothing can be said" in page
    assert "procedures named" not in page.lower()
    logged(people.site, "1", day=date(2027, 1, 4))
    logged(people.site, "2", day=date(2027, 1, 29))
    with acting("test"):
        for day in (date(2027, 1, 4), date(2027, 1, 29), date(2027, 1, 30), date(2027, 3, 31)):
            patient = make_patient(people.site, hospital_number=f"H{day:%m%d}")
            performed(people, patient, procedure.technique, day)
    answer = client.get(f"{PAGE}?{QUARTER}&show=unnamed")
    counts = answer.context["compared"].counts
    assert (counts.procedures, counts.named, counts.outside) == (2, 0, 3)
    assert len(answer.context["rows"]) == counts.unnamed == 2
    assert (
        "Procedures outside 04 Jan 2027 to 29 Jan 2027, the days of the log, cannot be named by "
        "it: 3." in text(answer)
    )


def test_a_period_holds_its_first_and_its_last_day(people, client):
    days = [date(2026, 12, 31), date(2027, 1, 1), date(2027, 3, 31), date(2027, 4, 1)]
    for number, day in enumerate(days):
        logged(people.site, str(number), day=day)
    counts = client.get(f"{PAGE}?{QUARTER}").context["compared"].counts
    assert (counts.lines, counts.first_on, counts.last_on) == (2, days[1], days[2])


def test_a_procedure_that_was_set_aside_since_leaves_its_line_open(people, client, procedure):
    lead = people.users["lead"]
    line = logged(people.site, "1", procedure=procedure, hospital_number="H0471", settled_by=lead)
    record_aside(
        kind=BY_CODE["procedure"], row=procedure, expected_version=procedure.version,
        user=people.users["consultant"], reason="Wrong patient",
    )  # fmt: skip
    answer = client.get(PAGE)
    counts = answer.context["compared"].counts
    assert (counts.found, counts.open, len(answer.context["rows"])) == (0, 1, 1)
    page = text(client.get(reverse("theatre-log-line", args=[line.pk])))
    assert "The procedure that it was is set aside." in page
    assert "Left open by" not in page
    with acting("test"):
        again = performed(people, procedure.patient, procedure.technique)
    client.post(reverse("theatre-log-again"), boxes())
    line.refresh_from_db()
    assert (line.procedure, line.settled_by) == (again, None)


def test_days_that_cannot_be_are_refused_and_stay_typed(client):
    wrong = QUARTER.replace("last_month=Mar", "last_month=Mai").replace("last_day=31", "last_day=3")
    answer = client.get(f"{PAGE}?{wrong}")
    assert answer.status_code == 422
    assert 'value="Mai"' in answer.content.decode()
    swapped = QUARTER.replace("last_year=2027", "last_year=2026")
    assert "must not be before" in text(client.get(f"{PAGE}?{swapped}"))


def test_a_line_is_found_by_hand_among_the_procedures_near_it(people, client, procedure):
    near = logged(people.site, "1", day=DAY + timedelta(days=7), family_name="ZOËBECK")
    before = logged(people.site, "4", day=DAY - timedelta(days=7), family_name="ZOËBECK")
    far = logged(people.site, "2", day=DAY + timedelta(days=8), family_name="ZOËBECK")
    long_before = logged(people.site, "5", day=DAY - timedelta(days=8), family_name="ZOËBECK")
    other = logged(people.site, "3", family_name="Otherwise")
    numbers = {
        line.pk: [value for value, _ in form(client, line, "link").fields["procedure"].choices]
        for line in (near, before, far, long_before, other)
    }
    assert [pk for pk, found in numbers.items() if found] == [near.pk, before.pk]
    assert numbers[near.pk] == numbers[before.pk] == [str(procedure.pk)]
    page = text(client.get(reverse("theatre-log-line", args=[far.pk])))
    assert "No procedure within 7 days (chosen by this register)" in page
    answer = post(client, near, "link", procedure=procedure.pk, query=QUARTER)
    assert answer.url == f"{PAGE}?{QUARTER}"
    assert "Saved: the line is this procedure." in text(client.get(answer.url))
    near.refresh_from_db()
    assert (near.procedure, near.settled_by) == (procedure, people.users["consultant"])


def test_what_was_found_or_said_is_taken_back_and_stays_open(people, client, procedure):
    line = logged(people.site, "1", procedure=procedure, hospital_number="H0471")
    client.post(reverse("theatre-log-back", args=[line.pk]), {"version": line.version})
    line.refresh_from_db()
    assert (line.procedure, line.settled_by) == (None, people.users["consultant"])
    again = client.post(reverse("theatre-log-again"), boxes())
    assert again.url == f"{PAGE}?{QUARTER}"
    line.refresh_from_db()
    assert line.procedure is None
    assert "left open" in text(client.get(PAGE))


def test_a_line_is_set_apart_with_a_reason_only(people, client):
    line = logged(people.site, "1")
    assert post(client, line, "apart", because=" ").status_code == 422
    assert post(client, line, "apart", because="Hip replacement").status_code == 302
    assert "Saved: the line is none of this register." in text(client.get(PAGE))
    line.refresh_from_db()
    assert line.not_ours_because == "Hip replacement"
    assert "Hip replacement" in text(client.get(f"{PAGE}?show=not-ours"))


def test_whoever_was_slower_is_told_and_nothing_is_overwritten(people, client):
    line = logged(people.site, "1")
    post(client, line, "apart", because="Hip replacement")
    answer = post(client, line, "apart", because="Shoulder")
    assert answer.status_code == 422
    assert "Somebody said otherwise meanwhile" in text(answer)
    line.refresh_from_db()
    assert line.not_ours_because == "Hip replacement"
    client.post(reverse("theatre-log-back", args=[line.pk]), {"version": 1})
    line.refresh_from_db()
    assert line.not_ours_because == "Hip replacement"


def test_procedures_recorded_later_are_found_at_one_press(people, client, procedure):
    line = logged(people.site, "1", hospital_number="H0471")
    page = text(client.get(PAGE))
    assert "The procedure of 1 line was recorded after the log came in." in page
    client.post(reverse("theatre-log-again"), boxes())
    line.refresh_from_db()
    assert (line.procedure, line.settled_by) == (procedure, None)


def test_a_procedure_that_was_not_offered_is_not_taken(people, client, procedure):
    line = logged(people.site, "1")
    assert post(client, line, "link", procedure=procedure.pk).status_code == 422
    line.refresh_from_db()
    assert line.procedure is None


def test_the_lead_sees_counts_at_once_and_names_with_a_reason_that_is_noted(people, procedure):
    lead = people.client("lead")
    line = logged(people.site, "1", family_name="Zoëbeck", hospital_number="H99")
    answer = lead.get(f"{PAGE}?{QUARTER}")
    assert "Names and numbers of patients are not shown." in text(answer)
    for show in ("open", "unnamed"):
        shown = text(lead.get(f"{PAGE}?{QUARTER}&show={show}")).lower()
        assert "zoëbeck" not in shown
        assert "h99" not in shown
        assert "h0471" not in shown
    address = reverse("theatre-log-line", args=[line.pk])
    asked = lead.get(address)
    assert asked.url.startswith(reverse("theatre-log-names"))
    assert lead.post(asked.url, {"reason": "why"}).status_code == 422
    assert lead.post(asked.url, {"reason": REASON}).url == address
    assert "H99" in text(lead.get(address))
    assert "ZOËBECK" in text(lead.get(PAGE))
    notes = AccessLog.objects.filter(user=people.users["lead"]).order_by("pk")
    assert [(note.page.split()[0], note.reason) for note in notes][-2:] == [
        ("theatre-log-line", REASON),
        ("theatre-log", REASON),
    ]


def test_a_look_at_an_open_line_of_a_known_patient_is_noted_under_that_patient(
    people, client, procedure
):
    line = logged(people.site, "1", hospital_number="H0471", day=DAY - timedelta(days=30))
    client.get(reverse("theatre-log-line", args=[line.pk]))
    assert AccessLog.objects.filter(patient=procedure.patient, page="theatre-log-line").count() == 1


def test_a_line_of_another_site_is_not_there(client):
    line = logged(make_elsewhere(), "1")
    assert client.get(reverse("theatre-log-line", args=[line.pk])).status_code == 404
    back = client.post(reverse("theatre-log-back", args=[line.pk]), {"version": 1})
    assert back.status_code == 404


def test_every_list_costs_the_same_for_3_lines_and_for_300(people, client, procedure):
    apart = {"not_ours_because": "Hip", "settled_by": people.users["consultant"]}
    kinds: list[dict[str, Any]] = [{}, {"procedure": procedure}, apart]

    def fill(first: int, last: int) -> None:
        with acting("test"):
            TheatreLogEntry.objects.bulk_create(
                TheatreLogEntry(
                    site=people.site, reference=f"{kind} {number}", performed_on=DAY,
                    hospital_number=f"X{number}", procedure_words="Cement", **kinds[kind],
                )
                for number in range(first, last) for kind in range(3)
            )  # fmt: skip

    def queries() -> dict[str, int]:
        found = {}
        for show in ("open", "found", "not-ours", "unnamed"):
            with CaptureQueriesContext(connection) as counted:
                assert client.get(f"{PAGE}?{QUARTER}&show={show}").status_code == 200
            found[show] = len(counted)
        return found

    fill(0, 3)
    few = queries()
    fill(3, 300)
    assert queries() == few


@pytest.mark.parametrize(
    ("role", "kind", "page"),
    [
        ("consultant", "theatre_log", "theatre-log"),
        ("nurse", "theatre_log", None),
        ("nurse", "procedures", "patient-search"),
        ("nurse", "scores", "follow-up-due"),
        ("nurse", "referrals", "waiting"),
    ],
)
def test_a_confirmed_file_leads_on_to_where_it_shows_and_only_who_may_go_there(
    people, role, kind, page
):
    with acting("test"):
        kept = FileImport.objects.create(
            site=people.site, kind=kind, file_name="list.csv", sha256="0" * 64, content=b"",
            uploaded_by=people.users["nurse"], confirmed_by=people.users["nurse"],
            confirmed_at="2027-03-05T10:00Z",
        )  # fmt: skip
    answer = people.client(role).get(reverse("referral-import", args=[kept.pk]))
    header = answer.content.decode().partition('<div class="page-header">')[2]
    main = re.findall(r'button--main" href="([^"]*)"', header)
    assert main == ([reverse(page)] if page else [])


def form(client, line: TheatreLogEntry, name: str):
    return client.get(reverse("theatre-log-line", args=[line.pk])).context[name]


def post(client, line: TheatreLogEntry, button: str, *, query: str = "", **said: Any):
    """Press one of the two buttons of a line as it was read."""
    data = {f"{button}-{name}": value for name, value in said.items()}
    data |= {f"{button}-version": line.version, button: "Save"}
    return client.post(f"{reverse('theatre-log-line', args=[line.pk])}?{query}", data)


def boxes() -> dict[str, str]:
    return dict(pair.split("=") for pair in QUARTER.split("&"))
