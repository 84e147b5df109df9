"""Who looked at this patient, and what I looked at."""

import pytest
from django.test import Client
from django.urls import reverse
from django.utils.timezone import now

from register.history import acting
from register.models import AccessLog, Patient
from tests.factories import make_patient
from tests.web.people import People, make_people


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def maud(people) -> Patient:
    with acting("test"):
        return make_patient(people.site, family_name="Ashbeck")


def look(people: People, role: str, patient: Patient | None, page: str, reason: str = "") -> None:
    AccessLog.objects.create(user=people.users[role], patient=patient, page=page, reason=reason)


def text(client: Client, name: str, *args: int) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_each_look_tells_who_when_which_page_and_why(people, maud):
    look(people, "consultant", maud, "decide")
    look(people, "lead", maud, "patient-record", "Complaint about waiting")
    told = text(people.client("nurse"), "patient-looks", maud.pk)
    assert f"{now():%Y}" in told
    for words in (
        str(people.users["consultant"]),
        str(people.users["lead"]),
        "Decision",
        "Patient record",
        "Complaint about waiting",
        "care: none asked for",
    ):
        assert words in told
    assert 'class="identity"' in told


def test_looks_at_others_are_not_among_them(people, maud):
    with acting("test"):
        other = make_patient(people.site)
    look(people, "consultant", other, "decide")
    look(people, "consultant", None, "waiting")
    assert "Nobody has looked" in text(people.client("nurse"), "patient-looks", maud.pk)


def test_the_look_at_the_looks_is_noted_itself(people, maud):
    client = people.client("nurse")
    text(client, "patient-looks", maud.pk)
    assert "Who looked at this patient</td>" in text(client, "patient-looks", maud.pk)


def test_a_record_that_was_set_aside_still_tells_who_looked(people, maud):
    look(people, "nurse", maud, "patient-record")
    with acting("test"):
        maud.voided_at, maud.void_reason = now(), "Entered twice"
        maud.save()
    client = people.client("consultant")
    assert client.get(reverse("patient-record", args=[maud.pk])).status_code == 404
    assert str(people.users["nurse"]) in text(client, "patient-looks", maud.pk)


def test_the_lead_gives_a_reason_first_and_another_site_sees_nothing(people, maud):
    address = reverse("patient-looks", args=[maud.pk])
    asked = people.client("lead").get(address)
    assert asked.url.startswith(reverse("record-reason", args=[maud.pk]))
    with acting("test"):
        elsewhere = make_people()
    for role in ("consultant", "lead"):
        assert elsewhere.client(role).get(address).status_code == 404


def test_my_own_page_shows_mine_only(people, maud):
    look(people, "nurse", maud, "review")
    look(people, "nurse", None, "theatre-session 12")
    look(people, "consultant", maud, "decide")
    told = text(people.client("nurse"), "my-looks")
    assert "Follow-up contact" in told
    assert "Theatre list 12" in told
    assert "several, or none" in told
    assert "Decision" not in told


def test_the_lead_reads_no_name_on_the_own_list(people, maud):
    look(people, "lead", maud, "patient-record", "Complaint about waiting")
    told = text(people.client("lead"), "my-looks")
    assert "Complaint about waiting" in told
    assert reverse("patient-record", args=[maud.pk]) in told
    assert maud.family_name.upper() not in told.upper()


@pytest.mark.parametrize("name", ["patient-looks", "my-looks"])
def test_3_looks_cost_as_much_as_80(people, maud, name, django_assert_max_num_queries):
    args = [maud.pk] if name == "patient-looks" else []
    client = people.client("nurse")
    costs = []
    for many in (3, 77):
        for _ in range(many):
            look(people, "nurse", maud, "decide")
        with django_assert_max_num_queries(100) as queries:
            client.get(reverse(name, args=args))
        costs.append(len(queries))
    assert costs[0] == costs[1]
