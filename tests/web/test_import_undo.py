"""Undoing an import through its page."""

import pytest
from django.urls import reverse

from register.history import acting
from register.models import FileImport, Patient, Referral
from register.services.editing import update_row
from tests.clock import stop_clock
from tests.referral_files import CELLS, TODAY, another, changed
from tests.web.people import People, make_people
from tests.web.test_imports import seen as seen_on
from tests.web.test_imports import sent


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people):
    return people.client("nurse")


def confirmed(nurse, *rows) -> FileImport:
    address = sent(nurse, *rows)
    nurse.post(address, seen_on(nurse, address))
    kept = FileImport.objects.latest("pk")
    assert kept.confirmed_at
    return kept


def undo_address(kept: FileImport) -> str:
    return reverse("import-undo", args=[kept.pk])


def page(client, address: str) -> str:
    return client.get(address).content.decode()


def test_the_list_is_shown_and_the_reason_is_asked(nurse):
    kept = confirmed(nurse, CELLS, another())
    address = undo_address(kept)
    text = page(nurse, address)
    assert "ZOËBECK, Maud" in text
    assert "T12 fracture, began 03 Feb 2027" in text
    seen = nurse.get(address).context["plan"].seal
    answer = nurse.post(address, {"seen": seen, "reason": ""})
    assert answer.status_code == 422
    assert "Say why the import is undone." in answer.content.decode()
    answer = nurse.post(address, {"seen": seen, "reason": "Wrong week"}, follow=True)
    assert "import undone" in answer.content.decode()
    assert "Undone on 07 Mar 2027, 12:00" in answer.content.decode()
    assert Patient.objects.live().count() == 0


def test_former_values_are_shown_before_they_come_back(nurse):
    confirmed(nurse, CELLS)
    kept = confirmed(nurse, changed(Pain_on_movement="6"))
    text = page(nurse, f"{undo_address(kept)}?show=restored")
    assert "pain moving: 6 → 8" in text


def test_what_changed_since_the_list_was_shown_is_shown_again(people, nurse):
    kept = confirmed(nurse, CELLS, another())
    address = undo_address(kept)
    seen = nurse.get(address).context["plan"].seal
    referral = Referral.objects.first()
    with acting(people.users["consultant"], "Asked again"):
        referral.pain_moving = 3
        update_row(referral, expected_version=1, fields=["pain_moving"])
    answer = nurse.post(address, {"seen": seen, "reason": "Wrong week"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert "so nothing was undone" in text
    assert f"{people.users['consultant'].username} changed it on" in text
    assert Patient.objects.live().count() == 2
    seen = answer.context["plan"].seal
    assert f'value="{seen}"' in text
    answer = nurse.post(address, {"seen": seen, "reason": "Wrong week"}, follow=True)
    assert "Left by the undo" in answer.content.decode()
    assert Patient.objects.live().count() == 1


def test_a_file_that_was_not_confirmed_has_nothing_to_undo(nurse):
    sent(nurse, CELLS)
    answer = nurse.get(undo_address(FileImport.objects.latest("pk")), follow=True)
    assert "never confirmed" in answer.content.decode()


def test_others_and_other_departments_undo_nothing(people, nurse):
    address = undo_address(confirmed(nurse, CELLS))
    assert people.client("lead").get(address).status_code == 403
    with acting("test"):
        stranger = make_people().client("nurse")
    assert stranger.get(address).status_code == 404
    assert stranger.post(address, {"seen": "x", "reason": "x"}).status_code == 404
