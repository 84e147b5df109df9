"""Unfinished typing: kept for its author, given back exactly, gone with the save."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from register.drills._forms import form_at
from register.history import acting
from register.models import Draft, Patient, Study
from tests.factories import make_patient
from tests.web.people import People, make_people


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def patient(people) -> Patient:
    with acting("test"):
        return make_patient(people.site, care_home="Before")


@pytest.fixture
def nurse(people) -> Client:
    return people.client("nurse")


def signed_out(client: Client) -> None:
    """End the session on the server, as its time does."""
    client.session.flush()


def again(people: People, client: Client, role: str = "nurse") -> Client:
    client.force_login(
        people.users[role], backend="allauth.account.auth_backends.AuthenticationBackend"
    )
    return client


def keep(client: Client, address: str, form, **typed):
    return client.post(reverse("draft-keep"), form.typed(draft_for=address, **typed))


def details(patient: Patient) -> str:
    return reverse("patient-edit", args=[patient.pk])


ODD = ["  two  spaces ", '<b>&amp; "quoted" \'', "Zoë – ½"]


@pytest.mark.parametrize("words", ODD)
def test_going_on_fills_the_boxes_exactly_as_typed(nurse, patient, words):
    address = details(patient)
    form = form_at(nurse, address)
    assert keep(nurse, address, form, care_home=words, date_of_birth_month="Mäy").status_code == 200
    page = nurse.get(address).text
    assert "You left this unfinished" in page
    draft = Draft.objects.get()
    back = form_at(nurse, f"{address}?unfinished={draft.pk}", address)
    assert back.data["care_home"] == [words]
    assert back.data["date_of_birth_month"] == ["Mäy"]
    assert back.data["version"] == form.data["version"]
    patient.refresh_from_db()
    assert patient.care_home == "Before"


def test_ticks_choices_reasons_and_lines_come_back_too(nurse, patient):
    address = reverse("referral-new", args=[patient.pk])
    form = form_at(nurse, address)
    typed = {
        "source": "emergency",
        "infection_signs": ["fever", "night_pain"],
        "pain_rest_absent": "declined",
        "weight_kg": "31",
        "weight_kg_unlikely": "very frail",
        "note": "\nline one\nline two",
        "fractures-1-level": "L2",
        "drugs-0-stopped_on_day": "7",
        "fractures-19-level": "T12",
    }
    keep(nurse, address, form, **typed)
    back = form_at(nurse, f"{address}?unfinished={Draft.objects.get().pk}", address)
    for name, value in typed.items():
        assert back.data.get(name) == (value if isinstance(value, list) else [value]), name


def test_a_draft_belongs_to_its_author_alone(people, nurse, patient):
    address = details(patient)
    keep(nurse, address, form_at(nurse, address), care_home="Mine alone")
    draft = Draft.objects.get()
    other = people.client("consultant")
    page = other.get(f"{address}?unfinished={draft.pk}").text
    assert "Mine alone" not in page
    assert "Not saved yet" not in page
    assert other.post(reverse("draft-drop", args=[draft.pk])).status_code == 404
    assert "Mine alone" not in other.get(reverse("drafts")).text


def test_nothing_is_kept_for_a_page_of_another_department(nurse, patient):
    with acting("test"):
        foreign = make_patient(make_people().site)
    form = form_at(nurse, details(patient))
    assert keep(nurse, details(foreign), form, care_home="x").status_code == 404
    assert not Draft.objects.exists()


def test_more_than_typing_is_not_kept(nurse, patient):
    address = details(patient)
    answer = keep(nurse, address, form_at(nurse, address), care_home="x" * 20_001)
    assert (answer.status_code, Draft.objects.count()) == (422, 0)
    assert "Save it in parts" in answer.json()["words"]


def test_a_draft_goes_with_the_save_and_not_with_a_refusal(nurse, patient):
    address = details(patient)
    form = form_at(nurse, address)
    keep(nurse, address, form, care_home="After")
    assert nurse.post(address, form.typed(family_name="")).status_code == 422
    assert Draft.objects.count() == 1
    assert nurse.post(address, form.typed(care_home="After")).status_code == 302
    assert not Draft.objects.exists()


def test_a_draft_over_an_older_version_meets_the_conflict(nurse, patient):
    address = details(patient)
    form = form_at(nurse, address)
    keep(nurse, address, form, care_home="Mine")
    assert nurse.post(address, form_at(nurse, address).typed(care_home="Theirs")).status_code == 302
    with acting("test"):  # the save above took the draft; somebody else's would not have
        Draft.objects.create(
            user_id=nurse.session["_auth_user_id"], form=address, address=address,
            data=form.typed(care_home=["Mine"]),
        )  # fmt: skip
    back = form_at(nurse, f"{address}?unfinished={Draft.objects.get().pk}", address)
    answer = nurse.post(address, back.data)
    assert answer.status_code == 422
    assert "Theirs" in answer.text
    assert "Mine" in answer.text


def test_the_list_names_the_patient_and_what_is_dropped_can_be_taken_back(nurse, patient):
    address = details(patient)
    keep(nurse, address, form_at(nurse, address), care_home="Mine")
    page = nurse.get(reverse("drafts")).text
    assert str(patient) in page
    assert "Unfinished (1)" in page
    draft = Draft.objects.get()
    nurse.post(reverse("draft-drop", args=[draft.pk]))
    assert not Draft.objects.exists()
    assert "Undo" in nurse.get(reverse("drafts")).text
    nurse.post(reverse("draft-restore"))
    assert Draft.objects.get().data == draft.data


def test_passphrases_are_never_kept(people):
    admin = people.client("administrator")
    address = reverse("user-new")
    form = form_at(admin, address)
    keep(admin, address, form, username="new.person", passphrase="correct horse battery")
    assert "correct horse" not in str(Draft.objects.get().data)


def test_old_drafts_are_cleared(nurse, patient, capsys):
    address = details(patient)
    keep(nurse, address, form_at(nurse, address), care_home="Mine")
    call_command("clear_drafts")
    assert Draft.objects.exists()
    Draft.objects.update(saved_at=timezone.now() - timedelta(days=15))
    call_command("clear_drafts")
    assert not Draft.objects.exists()
    assert "older than 14 days" in capsys.readouterr().out


# --- the sign-in ran out -----------------------------------------------------


def test_after_an_expired_sign_in_the_form_comes_back_and_nothing_was_saved(people, nurse, patient):
    address = details(patient)
    form = form_at(nurse, address)
    signed_out(nurse)
    answer = nurse.post(address, form.typed(care_home="Typed before the end"))
    assert answer.status_code == 302
    page = nurse.get(answer.url)
    assert "what you typed is kept" in page.text
    assert "Typed before" not in page.text
    there = page.context["redirect_field_value"]
    patient.refresh_from_db()
    assert patient.care_home == "Before"
    back = form_at(again(people, nurse), there, address)
    assert back.data["care_home"] == ["Typed before the end"]
    assert nurse.post(address, back.data).status_code == 302
    patient.refresh_from_db()
    assert patient.care_home == "Typed before the end"


def test_somebody_else_who_signs_in_then_sees_nothing_of_it(people, nurse, patient):
    address = details(patient)
    form = form_at(nurse, address)
    signed_out(nurse)
    nurse.post(address, form.typed(care_home="Private typing"))
    there = f"{address}?unfinished={Draft.objects.get().pk}"
    other = again(people, nurse, "consultant")
    assert "Private typing" not in other.get(there).text
    answer = other.post(address, form.typed(care_home="Private typing"))
    assert answer.status_code == 409
    assert "Private typing" not in answer.text


def test_a_part_of_a_page_never_becomes_the_sign_in_page(nurse, people, patient):
    with acting("test"):
        study = Study.objects.create(
            patient=patient, modality="mri", performed_on="2027-03-01", posture="supine",
            counted_from="sacrum",
        )  # fmt: skip
    address = reverse("reading-new", args=[study.pk, "L1"])
    form = form_at(nurse, address)
    signed_out(nurse)
    drawing = reverse("reading-drawing", args=[study.pk, "L1"])
    answer = nurse.post(drawing, form.data, headers={"HX-Request": "true"})
    assert answer.status_code in (204, 401)
    assert not answer.content


def test_the_script_that_keeps_typing_is_told_and_its_typing_is_kept(nurse, patient):
    address = details(patient)
    form = form_at(nurse, address)
    signed_out(nurse)
    typed = form.typed(care_home="Mine", draft_for=address)
    answer = nurse.post(reverse("draft-keep"), typed, headers={"Accept": "application/json"})
    assert answer.status_code == 401
    assert Draft.objects.get().data["care_home"] == ["Mine"]


def test_a_page_older_than_the_sign_in_gives_its_form_back(people, patient):
    client = Client(enforce_csrf_checks=True)
    again(people, client)
    address = details(patient)
    form = form_at(client, address)
    stale = form.typed(care_home="Mine", csrfmiddlewaretoken="x" * 64)
    answer = client.post(address, stale)
    assert answer.status_code == 403
    assert "What you typed is kept" in answer.text
    back = form_at(client, f"{address}?unfinished={Draft.objects.get().pk}", address)
    assert back.data["care_home"] == ["Mine"]
    assert client.post(address, back.data).status_code == 302


# --- twice, and late ---------------------------------------------------------


def examination(client: Client, patient: Patient, posture: str = "supine"):
    form = form_at(client, reverse("study-new", args=[patient.pk]))
    day = {"performed_on_day": "1", "performed_on_month": "Mar", "performed_on_year": "2026"}
    return form.typed(modality="film", posture=posture, counted_from="sacrum", **day)


def test_the_same_form_sent_again_saves_nothing_and_leads_to_the_same_place(nurse, patient):
    address = reverse("study-new", args=[patient.pk])
    typed = examination(nurse, patient)
    first, second = nurse.post(address, typed), nurse.post(address, typed)
    assert (first.status_code, second.status_code, second.url) == (302, 302, first.url)
    assert Study.objects.count() == 1
    assert "saved already" in nurse.get(second.url).text


def test_a_page_from_back_filled_differently_is_another_entry(nurse, patient):
    address = reverse("study-new", args=[patient.pk])
    typed = examination(nurse, patient)
    nurse.post(address, typed)
    assert nurse.post(address, typed | {"posture": "standing"}).status_code == 302
    assert Study.objects.count() == 2


def test_a_form_that_says_nothing_of_its_page_is_refused(people, patient):
    client = again(people, Client(enforce_csrf_checks=True))
    address = details(patient)
    form = form_at(client, address)
    del form.data["form_page"]
    assert client.post(address, form.typed(care_home="x")).status_code == 409
    patient.refresh_from_db()
    assert patient.care_home == "Before"
