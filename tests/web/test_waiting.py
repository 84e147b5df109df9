"""The worklist: who is on it, in which order, what each row says, what it costs."""

import re
from datetime import date

import pytest
from django.urls import reverse
from django.utils import timezone
from django.utils.timezone import localdate

from planning.facts import facts_of
from planning.rules.answer import AnswerKind, overall
from planning.rules.outcomes import Stage
from planning.selectors.waiting import counts, elective, urgent, with_similar_names
from planning.services.assessments import assessment_record
from planning.services.protocols import in_force
from register.domain.clock import window
from register.domain.vocabulary import EPIDURAL_GRADE, INFECTION_STATE, NEUROLOGY, codes
from register.history import acting
from tests.factories import (
    make_decision,
    make_entry,
    make_fracture,
    make_measurement,
    make_plan,
    make_referral,
    make_session,
    make_site,
    make_technique,
)
from tests.web.waiting import DAY, listed, page, read, text, wait

# --- who and in which order ---------------------------------------------------


def test_the_order_is_urgency_then_the_day_the_window_closes(people):
    set_by = {"urgency_set_by": people.users["consultant"], "urgency_set_on": localdate()}
    late = wait(people, 12)
    soon = wait(people, 40, urgency="soon", **set_by)
    no_clock = wait(people, 41, urgency="routine", **set_by)
    within_days = wait(people, 3, urgency="urgent", **set_by)
    closed = wait(people, 60)

    assert list(listed(people)) == [within_days, closed, soon, late, no_clock]


def test_a_fracture_without_onset_stands_where_its_referral_puts_it(people):
    younger, older = wait(people, 5), wait(people, 12)
    unknown = wait(people, None)  # referred 10 days ago, so it began no later

    assert list(listed(people)) == [older, unknown, younger]


@pytest.mark.parametrize("precision", ["day", "week", "month", "year"])
@pytest.mark.parametrize("days", [0, 1, 28, 59, 366])
def test_the_database_closes_the_window_on_the_day_the_clock_does(people, precision, days):
    fracture = wait(people, days, precision=precision)
    today = localdate()

    row = listed(people).get()

    asked = window(fracture.onset_on, precision, today, window_days=42)
    assert row.closes_on == asked.closes_on


@pytest.mark.parametrize("code", ["", *codes(NEUROLOGY)])
def test_the_box_holds_what_the_rules_refer_on_for_neurology(people, code):
    same_as_the_rules(people, wait(people, neurology=code))


@pytest.mark.parametrize("code", ["", *codes(INFECTION_STATE)])
def test_the_box_holds_what_the_rules_refer_on_for_infection(people, code):
    same_as_the_rules(people, wait(people, infection_state=code))


@pytest.mark.parametrize("code", ["", *codes(EPIDURAL_GRADE)])
def test_the_box_holds_what_the_rules_refer_on_for_the_cord(people, code):
    fracture = wait(people)
    read(people, fracture, epidural_grade=code)
    same_as_the_rules(people, fracture)


def same_as_the_rules(people, fracture):
    today = localdate()
    current = in_force(people.site, today)
    facts = facts_of(fracture, on=today)
    answer = overall(current.rules.evaluate(facts, current.values, stage=Stage.DECISION))
    assert listed(people).get().on_urgent_pathway is (answer.kind is AnswerKind.URGENT)


def test_the_newest_word_counts_for_the_box_too(people):
    fracture = wait(people, neurology="N3")
    with acting("test"):
        make_referral(
            fracture.patient,
            referred_on=localdate(),
            onset_on=None,
            onset_precision="",
            neurology="N0",
        )

    assert not urgent(listed(people)).exists()


def test_another_levels_compression_does_not_count(people):
    fracture = wait(people)
    read(people, fracture, level="T4", epidural_grade="3")

    assert not urgent(listed(people)).exists()


def test_the_dead_the_treated_the_voided_and_other_departments_are_not_on_it(people):
    wait(people, state="treated")
    wait(people, state="conservative")
    with acting("test"):
        wait(people, site=make_site())
    dead = wait(people, person={"date_of_death": localdate() - DAY})
    voided = wait(people)
    with acting("test"):
        voided.voided_at, voided.void_reason = timezone.now(), "entered twice"
        voided.save()

    response = page(people)

    assert not listed(people).exists()
    assert "No fracture is waiting." in text(response)
    assert f"Still open although the patient died: {dead.patient}, L1" in text(response)


# --- what the page says ---------------------------------------------------------


def test_the_urgent_box_stands_above_the_list_with_the_departments_instruction(people):
    with acting("test"):
        people.site.urgent_instruction = "Ring 2222 and ask for the spinal registrar."
        people.site.save()
    waiting = wait(people, person={"family_name": "Arden"})
    wait(people, person={"family_name": "Easton"}, neurology="N3",
         neurology_since=localdate())  # fmt: skip

    words = text(page(people))

    assert words.index("Ring 2222") < words.index("EASTON") < words.index("ARDEN")
    assert words.count("EASTON") == 1
    assert "N3 incomplete cord or cauda equina, since" in words
    assert list(elective(listed(people))) == [waiting]


def test_the_line_counts_everybody_whatever_is_filtered(people):
    for days in (34, 35, 42, 43, None):  # of 42: in 8 days, in 7, today, yesterday, unknown
        wait(people, days)
    wait(people, neurology="N4")

    found = counts(listed(people), on=localdate())
    words = text(page(people, clock="closed"))

    assert (found.waiting, found.closing, found.closed, found.urgent) == (5, 2, 1, 1)
    assert "5 waiting, 2 leave their window within a week, 1 on the urgent pathway." in words


def test_a_row_says_all_in_words(people):
    fracture = wait(people, 26, cancer_history="", person={"family_name": "Arden"})
    with acting("test"):
        make_measurement(read(people, fracture))

    words = text(page(people))

    for said in ("ARDEN, Maud", "day 26, 16 days left", "8 / 5", "band, MRI", "epidural",
                 "Assess", "Not assessed yet.", "Anterior height 16.4 mm"):  # fmt: skip
        assert said in words


def test_nothing_recorded_is_said_and_no_cell_is_empty(people):
    wait(people, None, pain_moving=None, pain_rest=None, neurology="")

    response = page(people)

    assert not re.search(r"<t[dh][^>]*>\s*</t[dh]>", response.content.decode())
    words = text(response)
    assert "onset not recorded" in words
    assert "neurological grade" in words
    assert words.count("not recorded") >= 3


def test_an_urgency_shows_who_waits_by_whose_word(people):
    wait(people, urgency="urgent", urgency_set_by=people.users["nurse"],
         urgency_set_on=date(2026, 3, 1))  # fmt: skip

    words = text(page(people))

    assert "Urgent: within days" in words
    assert "urgent: within days, set 01 Mar 2026" in words


def test_similar_names_carry_a_mark_in_words(people):
    one = wait(people, person={"family_name": "Denny", "given_name": "Ruth"})
    two = wait(people, person={"family_name": "Denney", "given_name": "Rose"})
    wait(people, person={"family_name": "Collard", "given_name": "Ines"})

    assert with_similar_names(listed(people)) == {one.patient_id, two.patient_id}
    assert text(page(people)).count("similar name") == 2


def test_a_mark_is_not_given_for_two_fractures_of_one_person(people):
    fracture = wait(people)
    with acting("test"):
        make_fracture(fracture.referral, level="T8")

    assert with_similar_names(listed(people)) == set()


# --- the next step ----------------------------------------------------------------


def step(people):
    found = re.search(r'data-label="Next".*?</td>', page(people).content.decode(), re.S)
    assert found is not None
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", found.group())).split("> ")[-1].strip()


def test_the_next_step_follows_the_case(people):
    fracture = wait(people)
    read(people, fracture)
    consultant = people.users["consultant"]
    assert step(people).startswith("Assess L1")

    with acting("test"):
        assessment_record(fracture=fracture, made_by=consultant, as_of=localdate())
    assert step(people).startswith("Decide L1")

    with acting("test"):
        decision = make_decision(fracture, consultant, decided_on=localdate())
    assert step(people).startswith("Plan L1")

    with acting("test"):
        plan = make_plan(decision, make_technique(people.site))
    assert step(people).startswith("Finish plan L1")

    with acting("test"):
        plan.state, plan.approved_by, plan.approved_at = "approved", consultant, timezone.now()
        plan.save()
    assert step(people).startswith("Put on a list L1")

    with acting("test"):
        make_entry(make_session(people.site, held_on=date(2027, 3, 12)), plan)
    assert step(people).startswith("See list L1")
    assert "On the list of 12 Mar 2027." in step(people)


def test_a_newer_reading_asks_for_a_new_assessment(people):
    fracture = wait(people)
    read(people, fracture)
    with acting("test"):
        assessment_record(fracture=fracture, made_by=people.users["consultant"], as_of=localdate())
    read(people, fracture, oedema="none", read_on=localdate())

    assert step(people).startswith("Assess again L1")
    assert "Made before the reading of" in step(people)


def test_an_assessment_that_lacks_a_fact_asks_for_it(people):
    fracture = wait(people, neurology="")
    read(people, fracture)
    with acting("test"):
        assessment_record(fracture=fracture, made_by=people.users["consultant"], as_of=localdate())

    assert step(people).startswith("Complete L1")
    assert "Cannot be assessed without neurological grade" in step(people)


def test_whoever_may_not_decide_reads_the_step_and_cannot_press_it(people):
    fracture = wait(people)
    read(people, fracture)
    with acting("test"):
        assessment_record(fracture=fracture, made_by=people.users["consultant"], as_of=localdate())
    address = reverse("decide", args=[fracture.pk])

    assert address in page(people, "consultant").content.decode()
    nurse = page(people, "nurse")
    assert "Decide" in text(nurse)
    assert address not in nurse.content.decode()
