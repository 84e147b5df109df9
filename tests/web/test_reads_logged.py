"""Whatever shows a patient leaves a note: found by looking for names in every answer."""

import logging
from functools import partial
from typing import Any

import pytest
from django.db import transaction
from django.urls import reverse

from register.entry.whose import kind_of, patient_of
from register.history import acting
from register.models import AccessLog, Patient, RecordTransfer
from register.reads import NOT_ONE_PATIENT
from register.services import access
from tests.browser.objects import World, make_world
from tests.web.real_pages import REASON, RealPage, client_of, real_pages

READERS = ("consultant", "lead")  # the nurse's pages are among the consultant's
pytestmark = pytest.mark.usefixtures("undrawn")


@pytest.fixture
def world(db) -> World:
    with acting("test"):
        return make_world()


@pytest.fixture
def patients(world) -> list[Patient]:
    return list(Patient.objects.filter(site=world.people["nurse"].site))


def marks(patients: list[Patient]) -> set[str]:
    """What gives a patient away: family name, numbers as stored and as shown."""
    found = set()
    for one in patients:
        number = one.nhs_number
        found |= {one.family_name.lower(), one.hospital_number.lower(), number}
        found.add(f"{number[:3]} {number[3:6]} {number[6:]}")
    return found


def shows_somebody(answer: Any, known: set[str]) -> bool:
    if answer.status_code >= 300 and answer.status_code != 422:
        return False
    content = b"".join(answer) if answer.streaming else answer.content
    if content.startswith(b"%PDF-1"):
        return True
    text = content.decode(errors="replace").replace("\xa0", " ").replace("\u202f", " ").lower()
    return any(mark in text for mark in known)


def notes_of(ask: Any) -> tuple[Any, list[AccessLog]]:
    """Ask, and return the answer with the notes it left; other changes are taken back."""
    with transaction.atomic():
        last = AccessLog.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        answer = ask()
        notes = list(AccessLog.objects.filter(pk__gt=last).select_related("patient", "user"))
        transaction.set_rollback(True)
    return answer, notes


def test_every_answer_that_shows_a_patient_left_a_note(world, patients, caplog):
    caplog.set_level(logging.INFO)
    known, missed, wrong, count, told = marks(patients), [], [], 0, []
    for role in READERS:
        client = client_of(world.people[role], patients)
        for page in real_pages(world):
            for method in ("get", "post"):
                answer, notes = notes_of(partial(getattr(client, method), page.address))
                told += notes
                if not shows_somebody(answer, known):
                    continue
                count += 1
                if not notes:
                    missed.append((role, page.name, method))
                elif not fits(notes, page, role):
                    wrong.append((role, page.name, [(n.page, n.patient_id) for n in notes]))
    print(f"{count} answers that show somebody, {len(missed)} missed, {len(wrong)} wrong")
    assert count > 60
    assert not missed
    assert not wrong
    written = " ".join(f"{note.page} {note.reason}" for note in told).lower()
    assert not [mark for mark in known if mark in written]
    assert not [mark for mark in known if mark in caplog.text.lower()]


def fits(notes: list[AccessLog], page: RealPage, role: str) -> bool:
    """One note, of this page and this patient, with the reason of whoever has to give one."""
    about = patient_of(page.match)
    reason = REASON if role == "lead" and about else ""
    second = [value for part, value in page.match.kwargs.items() if part in ("other_id", "to_id")]
    expected = [(page.name, about.pk if about else None, reason)]
    if transfer := page.match.kwargs.get("transfer_id"):  # that page shows both records
        second.append(RecordTransfer.objects.get(pk=transfer).from_patient_id)
    expected += [(page.name, value, reason) for value in second]
    return [(n.page.split()[0], n.patient_id, n.reason) for n in notes] == expected


def test_each_part_of_an_address_of_care_names_a_patient_or_says_why_not(world):
    unknown = []
    for page in real_pages(world):
        for part in page.match.kwargs if page.is_noted else ():
            if part not in NOT_ONE_PATIENT and kind_of(page.match) is None:
                unknown.append((page.name, part))
    assert not unknown


def test_a_search_answer_is_noted_without_what_was_looked_for(world, patients):
    client = client_of(world.people["nurse"])
    client.post(reverse("patient-search"), {"text": patients[0].family_name})
    answer, notes = notes_of(lambda: client.get(reverse("patient-search")))
    assert patients[0].family_name.upper() in answer.content.decode()
    assert [(note.page, note.patient) for note in notes] == [("patient-search", None)]


def test_of_a_list_it_is_noted_which_one_and_which_page(world):
    client = client_of(world.people["nurse"])
    session = world.values["session_id"]
    for address, page in (
        (reverse("theatre-session", args=[session]), f"theatre-session {session}"),
        (reverse("follow-up-due") + "?page=2", "follow-up-due page 2"),
    ):
        _, notes = notes_of(lambda address=address: client.get(address))
        assert [note.page for note in notes] == [page]


def test_nothing_is_shown_when_the_note_cannot_be_kept(world, monkeypatch):
    def fail(**kwargs: Any) -> None:
        raise OSError

    monkeypatch.setattr("register.reads.access_log", fail)
    client = client_of(world.people["nurse"])
    client.raise_request_exception = False
    answer = client.get(reverse("patient-record", args=[world.values["patient_id"]]))
    assert answer.status_code == 500
    assert access.access_log is not fail


def test_a_refused_page_leaves_no_note(world):
    client = client_of(world.people["administrator"])
    address = reverse("patient-record", args=[world.values["patient_id"]])
    answer, notes = notes_of(lambda: client.get(address))
    assert (answer.status_code, notes) == (403, [])


def test_the_lead_is_led_back_to_what_was_asked_for(world):
    client = client_of(world.people["lead"])
    wanted = reverse("assessment", args=[world.values["assessment_id"]])
    asked = client.get(wanted)
    assert asked.url.startswith(reverse("record-reason", args=[world.values["patient_id"]]))
    assert client.post(asked.url, {"reason": REASON}).url == wanted
    elsewhere = asked.url.split("?")[0] + "?next=//elsewhere.example/"
    assert client.post(elsewhere, {"reason": REASON}).url == reverse(
        "patient-record", args=[world.values["patient_id"]]
    )
