"""The waiting list filtered and paged, what it costs, and for whom it is."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils.timezone import localdate

from planning.selectors.waiting import filtered
from planning.services.assessments import assessment_record
from register.history import acting
from tests.factories import make_measurement, make_user
from tests.web.waiting import URL, listed, page, read, text, wait


@pytest.mark.parametrize(
    ("filters", "kept"),
    [
        ({"clock": "week"}, ["week"]),
        ({"clock": "closed"}, ["closed"]),
        ({"clock": "none"}, ["none"]),
        ({"clock": "open"}, ["week", "open"]),
        ({"state": "decided"}, ["decided"]),
        ({"urgency": "urgent"}, ["urgent"]),
        ({"clock": "nonsense"}, ["week", "closed", "none", "open", "decided", "urgent"]),
    ],
)
def test_filters_narrow_the_list(people, filters, kept):
    named = {
        "week": wait(people, 40),
        "closed": wait(people, 50),
        "none": wait(people, None),
        "open": wait(people, 5),
        "decided": wait(people, 90, state="listed"),
        "urgent": wait(people, 95, urgency="urgent", urgency_set_by=people.users["nurse"],
                       urgency_set_on=localdate()),
    }  # fmt: skip
    if filters == {"clock": "closed"}:
        kept = [*kept, "decided", "urgent"]

    response = page(people, **filters)

    shown = {row.fracture for row in response.context["rows"]}
    assert shown == {named[name] for name in kept}


def test_no_filter_finds_nothing_silently(people):
    wait(people, 5)

    words = text(page(people, clock="closed"))

    assert "No waiting fracture fits these filters." in words
    assert "The others are only hidden." in words


def test_a_filter_survives_the_page_and_holds_no_identifier(people):
    for _ in range(52):
        wait(people, 5)

    first = page(people, clock="open").content.decode()

    assert "?clock=open&amp;page=2" in first
    patients = {str(row.patient.hospital_number) for row in listed(people)}
    links = " ".join(re.findall(r'href="([^"]*)"', first))
    assert not any(number in links for number in patients)


def test_pages_neither_repeat_nor_lose_anybody(people):
    made = {wait(people, 20).pk for _ in range(103)}  # all equal: only the id tells them apart

    seen = [
        row.fracture.pk for number in (1, 2, 3) for row in page(people, page=number).context["rows"]
    ]

    assert len(seen) == 103
    assert set(seen) == made


def test_the_list_costs_the_same_for_3_rows_and_for_300(people):
    client = people.client("consultant")
    consultant = people.users["consultant"]

    def fill(number):
        for place in range(number):
            fracture = wait(people, 20, neurology="N3" if place % 50 == 0 else "N0")
            with acting("test"):
                make_measurement(read(people, fracture))
                if place % 10 == 0:
                    assessment_record(fracture=fracture, made_by=consultant, as_of=localdate())

    def queries():
        with CaptureQueriesContext(connection) as log:
            assert client.get(URL).status_code == 200
        return [query["sql"] for query in log.captured_queries]

    fill(3)
    few = queries()
    fill(297)
    many = queries()

    assert len(many) == len(few), "\n".join(sorted(set(many) - set(few)))


def test_filtered_leaves_the_order_alone(people):
    rows = [wait(people, days) for days in (30, 10, 20)]

    found = filtered(listed(people), on=localdate(), clock="open")

    assert list(found) == [rows[0], rows[2], rows[1]]


# --- who may ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("role", "status"),
    [("consultant", 200), ("nurse", 200), ("lead", 403), ("administrator", 403)],
)
def test_the_list_is_for_those_who_care_for_patients(people, role, status):
    assert people.client(role).get(URL).status_code == status


def test_a_person_without_a_department_sees_no_list(people, client):
    with acting("test"):
        user = make_user(people.site, "consultant")
        user.site = None
        user.save()
    client.force_login(user, backend="allauth.account.auth_backends.AuthenticationBackend")

    assert client.get(URL).status_code == 403
