"""Filters of lists stand in the address: kept by reload, Back and links, and without names."""

import re
from datetime import timedelta
from html import unescape

import pytest
from django.urls import reverse
from django.utils.timezone import localdate

from register.history import acting
from tests.factories import make_patient, make_session
from tests.web.follow_up import make_contact
from tests.web.waiting import wait

NOTICE = "The address asks for something that this list does not have"
# List -> filters that it has.
LISTS = {
    "waiting": {"urgency": "unset", "clock": "open", "state": "undecided"},
    "follow-up-due": {"group": "soon", "timepoint": "months_3", "tried": "none"},
    "theatre-sessions": {"past": "1"},
    "patient-history": {"kind": "patient", "person": "test"},
}
NAME = "Featherstone"


@pytest.fixture
def patient(people):
    """Somebody on every list."""
    fracture = wait(people, 5, person={"family_name": NAME, "hospital_number": "HG556677"})
    with acting("test"):
        make_contact(people.site, make_patient(people.site, family_name=NAME))
        make_session(people.site, held_on=localdate() - timedelta(days=3))
    with acting("another"):
        fracture.patient.language = "Welsh"
        fracture.patient.save()
    return fracture.patient


def address(name, patient):
    return reverse(name, args=[patient.pk] if name == "patient-history" else [])


def words(answer):
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def test_an_unknown_filter_is_told_and_hides_nothing(nurse, patient):
    wrong = ["nonsense", "²", "'; --", "x" * 3000]
    for name, boxes in LISTS.items():
        without = nurse.get(address(name, patient))
        for box, value in zip(boxes, wrong, strict=False):
            answer = nurse.get(address(name, patient), {box: value})
            assert answer.status_code == 200, (name, box)
            page = words(answer)
            assert NOTICE in page, (name, box)
            assert "Error:" not in page
            assert "Nothing was saved" not in page
            assert rows_in(answer) == rows_in(without), (name, box)


def rows_in(answer):
    return len(re.findall(r"<tr>|<li>\s*<time", answer.content.decode()))


def test_filters_narrow_the_list_and_the_page_says_which_are_on(nurse, patient):
    for name, filters in LISTS.items():
        everything = rows_in(nurse.get(address(name, patient)))
        answer = nurse.get(address(name, patient), filters)
        assert NOTICE not in words(answer), name
        assert not named_in(addresses_in(answer), patient)
        if name == "theatre-sessions":  # two links instead of boxes; none is to come
            assert rows_in(answer) > everything == 0
        else:
            assert rows_in(answer) < everything, name
            chosen = re.findall(r'<option value="([^"]+)" selected>', answer.content.decode())
            assert set(chosen) == {value for box, value in filters.items() if box != "group"}


def test_paper_tells_that_a_list_is_narrowed(nurse, patient):
    page = words(nurse.get(reverse("waiting"), {"clock": "open"}))
    assert "Only part of the list is shown. Clock: inside the window." in page
    assert "Only part of the list" not in words(nurse.get(reverse("waiting")))


def test_whom_somebody_looked_for_never_stands_in_an_address(nurse, patient):
    search = reverse("patient-search")
    for text in (NAME, patient.hospital_number, "Featherst"):
        sent = nurse.post(search, {"text": text})
        assert (sent.status_code, sent.url) == (302, search)
        page = nurse.get(search)
        assert NAME.upper() in words(page)
        assert not named_in(addresses_in(page), patient)
    # Typed into the address by hand, nothing is looked up.
    nurse.post(search, {"text": "Nobody of this name"})
    assert NAME.upper() not in words(nurse.get(search, {"text": NAME, "q": NAME}))


def addresses_in(answer):
    return re.findall(r'(?:href|action|src)="([^"]*)"', answer.content.decode())


def named_in(addresses, patient):
    told = (patient.family_name, patient.given_name, patient.hospital_number, patient.nhs_number)
    return [one for one in addresses for word in told if word and word.lower() in one.lower()]


def test_the_due_list_is_found_again_as_it_was_left(nurse, patient):
    with acting("test"):
        other = make_contact(patient.site, make_patient(patient.site))
    narrowed = {"group": "due", "tried": "none"}
    page = nurse.get(reverse("follow-up-due"), narrowed)
    opened = reverse("attempt-new", args=[other.pk]) + "?group=due&tried=none&"
    assert opened.replace("&", "&amp;") in page.content.decode()
    form = nurse.get(opened).context["form"]
    now = localdate()
    sent = nurse.post(opened, {
        "token": form["token"].value(), "mode": "telephone", "outcome": "no_answer",
        "made_on_day": now.day, "made_on_month": now.month, "made_on_year": now.year,
        "made_at": "00:01",
    })  # fmt: skip
    assert sent.status_code == 302, words(sent)
    assert sent.url == reverse("follow-up-due") + "?group=due&tried=none"
