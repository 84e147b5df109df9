"""Names that can be mistaken carry a mark on every list on which several patients stand."""

from datetime import time, timedelta

import pytest
from django.urls import reverse
from django.utils.timezone import localdate

from register.domain.names import similar_names
from register.history import acting
from register.services.imports import import_keep
from tests.factories import (
    make_decision,
    make_entry,
    make_fracture,
    make_patient,
    make_plan,
    make_procedure,
    make_referral,
    make_review,
    make_session,
    make_technique,
)
from tests.web.people import People, make_people

TODAY = localdate()
MARK = "similar name"
ALONE = ("Quillfeather", "Ottoline")
# Equal, one letter changed, one more, one less, other case, accent, hyphen.
CHANGES = (
    lambda name: name,
    lambda name: name[:-1] + "z",
    lambda name: name + "e",
    lambda name: name[:-1],
    lambda name: name.upper(),
    lambda name: name.replace("o", "ö", 1),
    lambda name: f"{name[:3]}-{name[3:]}",
)
STEMS = [
    f"{first}{middle}{last}"
    for first in ("Ash", "Birk", "Crom", "Dun", "Fell")
    for middle in ("ow", "en", "or")
    for last in ("beck", "ton")
]  # fmt: skip


def test_two_hundred_seeded_pairs_are_all_marked_and_nobody_else():
    pairs = [(stem, change(stem)) for stem in STEMS for change in CHANGES][:200]
    missed = [
        pair
        for pair in pairs
        if similar_names([(1, pair[0], "Maud"), (2, pair[1], "Mabel"), (3, *ALONE)]) != {1, 2}
    ]
    print(f"{len(pairs)} pairs, marked {len(pairs) - len(missed)}")
    assert len(pairs) == 200
    assert missed == []


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def three(people):
    """Two whose names resemble each other, and one who stands alone; each waits and is planned."""
    names = (("Ashbeck", "Maud"), ("Ashbeek", "Mabel"), ALONE)
    with acting("test"):
        return [
            make_patient(people.site, family_name=family, given_name=given)
            for family, given in names
        ]


def fractures_of(three):
    return [make_fracture(make_referral(patient)) for patient in three]


def plans_of(people, three):
    technique, consultant = make_technique(people.site), people.users["consultant"]
    plans = []
    for fracture in fractures_of(three):
        plan = make_plan(make_decision(fracture, consultant), technique, anaesthesia="local")
        plan.state, plan.approved_by, plan.approved_at = "approved", consultant, plan.created_at
        plan.save()
        plans.append(plan)
    return plans


def marks(text: str) -> int:
    return text.lower().count(MARK)


def test_waiting_marks_both(people, three):
    with acting("test"):
        fractures_of(three)
    assert marks(people.client("consultant").get(reverse("waiting")).text) == 2


def test_the_search_marks_both_also_across_its_pages(people, three):
    with acting("test"):
        for place in range(60):  # they stand between the two
            make_patient(
                people.site, family_name=f"Ashbec{'x' * (2 + place % 7)}", given_name="Ida"
            )
    client = people.client("nurse")
    client.post(reverse("patient-search"), {"text": "Ash"})
    first = client.get(reverse("patient-search")).text
    second = client.get(reverse("patient-search") + "?page=2").text
    rows = [row for row in (first + second).split("<tr>") if "ASHBECK, Maud" in row]
    rows += [row for row in (first + second).split("<tr>") if "ASHBEEK, Mabel" in row]
    assert [marks(row) for row in rows] == [1, 1]


def test_follow_up_due_marks_both(people, three):
    with acting("test"):
        for fracture in fractures_of(three):
            technique = make_technique(people.site)
            consultant = people.users["consultant"]
            done = make_procedure(
                fracture, technique, consultant, performed_on=TODAY - timedelta(20)
            )
            make_review(done)
    assert marks(people.client("nurse").get(reverse("follow-up-due")).text) == 2


def test_plans_without_a_place_mark_both_in_the_table_and_in_the_choice(people, three):
    with acting("test"):
        plans_of(people, three)
        session = make_session(people.site, held_on=TODAY + timedelta(3))
    nurse = people.client("nurse")
    assert marks(nurse.get(reverse("theatre-sessions")).text) == 2
    assert marks(nurse.get(reverse("theatre-session", args=[session.pk])).text) == 2


def test_a_theatre_list_marks_both_and_a_choice_beside_a_case(people, three):
    with acting("test"):
        first, second, other = plans_of(people, three)
        session = make_session(people.site, held_on=TODAY + timedelta(3), starts_at=time(8, 30))
        make_entry(session, first, place=1)
        make_entry(session, other, place=2)
    nurse = people.client("nurse")
    address = reverse("theatre-session", args=[session.pk])
    assert marks(nurse.get(address).text) == 1, "who could be put beside a namesake"
    with acting("test"):
        make_entry(session, second, place=3)
    assert marks(nurse.get(address).text) == 2


def test_the_preview_of_a_file_marks_both_and_not_one_person_twice(people):
    head = "Hospital number,Family name,Given name,Date of birth,Referral date,Levels\n"
    rows = [
        "H1,Ashbeck,Maud,09 Apr 1948,01 Mar 2026,L1",
        "H2,Ashbeek,Mabel,09 Apr 1951,01 Mar 2026,L1",
        "H3,Quillfeather,Ottoline,09 Apr 1948,01 Mar 2026,L1",
        "H3,Quillfeather,Ottoline,09 Apr 1948,02 Mar 2026,L2",
    ]
    with acting("test"):
        kept = import_keep(
            site=people.site,
            user=people.users["nurse"],
            file_name="referrals.csv",
            content=(head + "\n".join(rows)).encode(),
            date_order="dmy",
            today=TODAY,
        )
    page = people.client("nurse").get(reverse("referral-import", args=[kept.pk])).text
    assert marks(page) == 2
