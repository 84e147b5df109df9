"""What somebody must see: added with a name and a day, closed with what was done."""

from datetime import timedelta

import pytest
from django.urls import reverse

from register.history import acting
from register.models import Task
from tests.clock import stop_clock
from tests.factories import TODAY, make_patient
from tests.web.people import People, make_people


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people):
    return people.client("nurse")


@pytest.fixture
def patient(people):
    with acting("test"):
        return make_patient(people.site, family_name="Ashbeck", given_name="Maud")


@pytest.fixture
def task(people, patient) -> Task:
    with acting("test"):
        return Task.objects.create(
            patient=patient,
            kind="specimen",
            title="Histology of L1",
            owner=people.users["consultant"],
            due_on=TODAY + timedelta(3),
        )


def typed(people, **changes):
    return {
        "kind": "result", "title": "Myeloma tests", "owner": people.users["consultant"].pk,
        "due_on_day": "9", "due_on_month": "mar", "due_on_year": "2027",
    } | changes  # fmt: skip


def test_a_task_is_added_with_a_name_and_a_day(people, nurse, patient):
    address = reverse("patient-tasks", args=[patient.pk])
    assert nurse.post(address, typed(people)).url == address
    text = nurse.get(address).text
    assert "Myeloma tests" in text
    assert "09 Mar 2027" in text


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"due_on_day": "6"}, "on or after 07 Mar 2027 (today)"),
        ({"owner": ""}, "Who sees to it: choose an answer."),
        ({"title": ""}, "What: fill it in."),
        ({"kind": ""}, "Kind: choose an answer."),
    ],
)
def test_a_task_lacks_nothing(people, nurse, patient, changes, words):
    answer = nurse.post(reverse("patient-tasks", args=[patient.pk]), typed(people, **changes))
    assert answer.status_code == 422
    assert words in answer.text
    assert not Task.objects.exists()


def test_it_can_be_given_only_to_somebody_who_sees_patients_here(people, nurse, patient):
    for stranger in (people.users["administrator"], people.users["lead"]):
        answer = nurse.post(
            reverse("patient-tasks", args=[patient.pk]), typed(people, owner=stranger.pk)
        )
        assert answer.status_code == 422


def test_it_is_closed_with_what_was_done_and_by_whom(people, nurse, task):
    address = reverse("task-close", args=[task.pk])
    refused = nurse.post(address, {"version": "1", "action_taken": " "})
    assert refused.status_code == 422
    assert "Say what was done." in refused.text
    nurse.post(address, {"version": "1", "action_taken": "No tumour seen"})
    task.refresh_from_db()
    assert (task.closed_by, task.action_taken) == (people.users["nurse"], "No tumour seen")
    assert (
        "Nothing is waiting to be seen."
        in nurse.get(reverse("patient-tasks", args=[task.patient_id])).text
    )


def test_tasks_of_another_site_are_not_there(task):
    with acting("test"):
        other = make_people().client("nurse")
    for name, row in (("task-close", task), ("patient-tasks", task.patient)):
        address = reverse(name, args=[row.pk])
        assert other.get(address).status_code == other.post(address).status_code == 404
