"""A task is closed only by a named person with what was done."""

import pytest
from django.core.exceptions import ValidationError

from register.services.editing import EditConflict
from register.services.tasks import task_close, task_open
from tests.factories import TODAY, make_patient, make_site, make_user

pytestmark = pytest.mark.django_db


@pytest.fixture
def case(as_tester):
    with as_tester():
        site = make_site()
        return make_patient(site), make_user(site, "consultant")


def open_task(case, **changes):
    patient, person = case
    told = {"kind": "specimen", "title": "Biopsy of L1", "owner": person, "due_on": TODAY}
    return task_open(patient=patient, user=person, **told | changes)


def test_a_task_is_closed_with_name_time_and_action(case):
    task = open_task(case)
    task_close(task=task, expected_version=1, action_taken=" No tumour seen ", user=case[1])
    task.refresh_from_db()
    assert (task.closed_by, task.action_taken) == (case[1], "No tumour seen")
    assert task.closed_at is not None


def test_nothing_is_closed_without_an_action_or_twice(case):
    task = open_task(case)
    with pytest.raises(ValidationError):
        task_close(task=task, expected_version=1, action_taken=" ", user=case[1])
    task_close(task=task, expected_version=1, action_taken="Seen", user=case[1])
    with pytest.raises(ValidationError, match="closed already"):
        task_close(task=task, expected_version=2, action_taken="Seen", user=case[1])


def test_the_second_of_two_people_is_told(case):
    task = open_task(case)
    stale = type(task).objects.get(pk=task.pk)
    task_close(task=task, expected_version=1, action_taken="Seen", user=case[1])
    with pytest.raises(EditConflict):
        task_close(task=stale, expected_version=1, action_taken="Seen too", user=case[1])


def test_the_owner_works_at_the_site(case, as_tester):
    with as_tester():
        stranger = make_user(make_site(), "nurse")
    with pytest.raises(ValidationError, match="works in this department"):
        open_task(case, owner=stranger)
