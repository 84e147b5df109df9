"""Follow-up through its pages: who is on the list, and who sees what."""

import pytest
from django.urls import reverse

from register.history import acting
from register.models import Attempt, Patient, PatientPhone
from tests.factories import make_patient, make_site, make_technique
from tests.web.follow_up import DUE, PAGES, TODAY, address, end, make_contact, queries, words

# --- the due list ------------------------------------------------------------


def test_the_list_says_who_when_how_often_tried_and_how_to_ring(people, nurse, contact):
    with acting("test"):
        PatientPhone.objects.create(
            patient=contact.patient, number="01632 960011", times="after 10:00",
            message_allowed=False,
        )  # fmt: skip
        for _ in range(3):
            Attempt.objects.create(
                review=contact, made_at="2026-03-01T10:00Z", made_by=people.users["nurse"],
                mode="telephone", outcome="no_answer", next_try_on="2026-03-02",
            )  # fmt: skip
    page = words(nurse.get(DUE))
    for told in (
        str(contact.patient),
        "2 to 4 weeks",
        "closes in 8 days",
        "01632 960011, after 10:00, leave no message",
        "no answer, 01 Mar 2026",
        "next try 02 Mar 2026",
        "3 tries without an answer: write a letter.",
        "0 overdue, 1 due, 0 opening within 14 days.",
    ):
        assert told in page


def test_the_dead_are_not_listed_but_told(people, nurse, contact):
    with acting("test"):
        Patient.objects.filter(pk=contact.patient_id).update(date_of_death=TODAY)
    page = words(nurse.get(DUE))
    assert str(contact.patient) not in page
    assert "Not on the list because follow-up ended: 1 died." in page
    assert "Nobody is due." in page


def test_the_page_of_a_contact_says_that_follow_up_ended(people, nurse, contact):
    with acting("test"):
        Patient.objects.filter(pk=contact.patient_id).update(date_of_death=TODAY)
    assert "Follow-up ended:</strong> died, " in words(nurse.get(address(contact)))


def test_an_empty_list_says_what_comes_next(nurse):
    assert "Contacts are scheduled when a procedure is signed" in words(nurse.get(DUE))


def test_a_filter_that_fits_nobody_offers_the_way_back(nurse, contact):
    page = words(nurse.get(DUE, {"group": "overdue"}))
    assert "No contact fits what you chose." in page
    assert "Show everything open" in page


@pytest.mark.parametrize(
    "query", [{"group": "x"}, {"tried": "x"}, {"timepoint": "x"}, {"page": "x"}]
)
def test_an_answer_that_is_not_offered_counts_as_none(nurse, contact, query):
    answer = nurse.get(DUE, query)
    assert answer.status_code == 200
    assert str(contact.patient) in words(answer)


def test_similar_names_are_marked_in_words(people, nurse):
    with acting("test"):
        for family in ("Arden", "Ardan"):
            make_contact(people.site, make_patient(people.site, family_name=family))
    assert words(nurse.get(DUE)).count("similar name") == 2


def test_the_list_costs_the_same_for_3_rows_and_for_300(people, nurse):
    surgeon = people.users["consultant"]

    def add(number):
        technique = make_technique(people.site)
        for _ in range(number):
            contact = make_contact(people.site, technique=technique, operator=surgeon)
            PatientPhone.objects.create(patient=contact.patient, number="01632 960011")
            Attempt.objects.create(
                review=contact, made_at="2026-03-01T10:00Z", made_by=people.users["nurse"],
                mode="telephone", outcome="no_answer",
            )  # fmt: skip

    with acting("test"):
        add(3)
    few = queries(nurse, DUE)
    with acting("test"):
        add(297)
    many = queries(nurse, DUE)
    assert len(many) == len(few), "\n".join(many)
    print(f"{len(few)} queries")


def test_no_row_is_missing_or_repeated_across_pages(people, nurse):
    with acting("test"):
        technique = make_technique(people.site)
        made = {
            make_contact(people.site, technique=technique, operator=people.users["consultant"]).pk
            for _ in range(120)
        }
    shown = [
        row.review_id
        for number in (1, 2, 3)
        for row in nurse.get(DUE, {"page": number}).context["rows"]
    ]
    assert len(shown) == 120
    assert set(shown) == made


# --- who may ----------------------------------------------------------------------------


@pytest.mark.parametrize("role", ["lead", "administrator"])
def test_lead_and_administrator_see_no_follow_up(people, contact, role):
    client = people.client(role)
    pages = [DUE, end(contact), reverse("course", args=[contact.patient_id])]
    pages += [address(contact, name) for name in PAGES]
    assert {client.get(page).status_code for page in pages} == {403}


def test_a_contact_of_another_site_does_not_exist(people, nurse):
    with acting("test"):
        foreign = make_contact(make_site())
    pages = [end(foreign), reverse("course", args=[foreign.patient_id])]
    pages += [address(foreign, name) for name in PAGES]
    assert {nurse.get(page).status_code for page in pages} == {404}
    assert nurse.post(address(foreign), {}).status_code == 404
    assert nurse.post(address(foreign, "review-draft"), {}).status_code == 404


def test_identity_stands_on_pages_of_one_patient_and_on_no_list(nurse, contact):
    mark = 'class="identity"'
    assert mark not in words(nurse.get(DUE))
    for page in (address(contact), address(contact, "attempt-new"), end(contact)):
        assert mark in words(nurse.get(page))
