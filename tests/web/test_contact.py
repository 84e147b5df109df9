"""One contact of follow-up: what is asked, refused, kept, and the course it draws."""

from datetime import timedelta

import pytest
from django.urls import reverse

from register.history import acting
from register.models import Score
from tests.factories import make_fracture, make_patient, make_procedure, make_review, make_score
from tests.web.follow_up import DUE, PAGES, TODAY, address, boxes, queries, typed, values, words

# --- entering a contact -------------------------------------------------------


def test_a_contact_is_saved_with_its_scores_and_named(people, nurse, contact):
    answer = nurse.post(address(contact), typed(nurse, contact, pain_now="0"), follow=True)
    assert f"{contact.patient}: contact at 2 to 4 weeks, " in words(answer)
    contact.refresh_from_db()
    assert (contact.held_on, contact.mode, contact.informant) == (TODAY, "telephone", "patient")
    assert contact.recorded_by == people.users["nurse"]
    assert contact.red_flags == ["none"]
    assert values(contact)["pain_now"] == 0
    assert len(values(contact)) == 8
    assert str(contact.patient) not in words(nurse.get(DUE))


def test_an_empty_box_is_asked_about_and_everything_typed_is_kept(nurse, contact):
    answer = nurse.post(address(contact), typed(nurse, contact, pain_now="", pain_worst="7"))
    assert answer.status_code == 422
    page = words(answer)
    assert "Pain now: enter a whole number from 0 to 10, or choose why there is none." in page
    assert 'name="pain_worst" value="7"' in page
    assert not values(contact)


@pytest.mark.parametrize("reason", ["not_known", "not_done", "not_applicable", "declined"])
def test_a_reason_instead_of_a_score(nurse, contact, reason):
    nurse.post(address(contact), typed(nurse, contact, falls="", falls_absent=reason))
    score = Score.objects.get(review=contact, instrument="falls")
    assert (score.value, score.absent) == (None, {"value": reason})


def test_one_reason_for_the_whole_contact_leaves_typed_scores_alone(nurse, contact):
    none = dict.fromkeys(typed(nurse, contact), "") | {"pain_now": "4"}
    sent = typed(nurse, contact) | {
        code: none[code] for code in ("pain_worst", "pain_moving", "disability_24", "mobility",
                                      "analgesic_step", "new_pain", "falls", "pain_now")
    }  # fmt: skip
    nurse.post(address(contact), sent | {"all_absent": "declined"})
    scores = {s.instrument: s for s in Score.objects.filter(review=contact)}
    assert scores.pop("pain_now").value == 4
    assert {s.absent["value"] for s in scores.values()} == {"declined"}


@pytest.mark.parametrize(
    ("box", "value", "told"),
    [
        ("pain_now", "11", "Pain now is a whole number from 0 to 10. Type it again."),
        ("disability_24", "25", "Disability total is a whole number from 0 to 24."),
        ("pain_now", "7,5", "write a point instead of the comma"),
        ("mobility", "5", "Mobility is a whole number from 0 to 4."),
        ("pain_now", "3.5", "write a whole number"),
    ],
)
def test_the_impossible_is_refused_with_what_to_do(nurse, contact, box, value, told):
    answer = nurse.post(address(contact), typed(nurse, contact, **{box: value}))
    assert answer.status_code == 422
    assert told in words(answer)
    assert f'name="{box}" value="{value}"' in words(answer)
    assert not Score.objects.exists()


def test_a_score_and_a_reason_together_are_refused(nurse, contact):
    sent = typed(nurse, contact, falls="1", falls_absent="not_known")
    assert "not both" in words(nurse.post(address(contact), sent))


@pytest.fixture
def before(people, contact):
    """Pain 8 at an earlier contact of the same patient."""
    with acting("test"):
        earlier = make_review(
            contact.procedure, timepoint="before", target_on=contact.anchor_on,
            opens_on=contact.anchor_on, closes_on=contact.anchor_on,
            held_on=contact.anchor_on, recorded_by=people.users["nurse"],
        )  # fmt: skip
        return make_score(earlier, "pain_now", 8)


def test_the_value_before_stands_beside_the_box(nurse, contact, before):
    assert "8, " in next(
        row.last for row in nurse.get(address(contact)).context["form"].score_rows
        if row.field.name == "pain_now"
    )  # fmt: skip


def test_a_jump_is_questioned_once_and_the_answer_is_kept(nurse, contact, before):
    sent = typed(nurse, contact, pain_now="2", pain_worst="2")
    answer = nurse.post(address(contact), sent)
    assert answer.status_code == 422
    assert "Pain now was 8 on" in words(answer)
    assert 'name="pain_now_unlikely"' in words(answer)
    assert nurse.post(address(contact), sent | {"pain_now_unlikely": "Felt it at once"}).url == DUE
    score = Score.objects.get(review=contact, instrument="pain_now")
    assert (score.value, score.unlikely_reason) == (2, "Felt it at once")


def test_a_worst_pain_below_the_pain_now_is_questioned(nurse, contact):
    answer = nurse.post(address(contact), typed(nurse, contact, pain_now="5", pain_worst="4"))
    assert "The worst pain, 4, is below the pain now, 5." in words(answer)


def test_the_referral_is_the_value_before_where_there_was_no_contact(nurse, contact):
    with acting("test"):
        referral = contact.patient.referrals.get()
        referral.referred_on = contact.anchor_on - timedelta(days=9)
        referral.save()
    rows = {
        row.field.name: row.last for row in nurse.get(address(contact)).context["form"].score_rows
    }
    assert rows["pain_moving"].startswith("8, ")
    assert rows["pain_moving"].endswith("referral")
    assert rows["pain_now"] == "nothing before"


# --- warning signs --------------------------------------------------------------


def test_a_warning_sign_needs_whom_and_when(nurse, contact):
    sent = typed(nurse, contact, red_flag_check="some", red_flags=["leg_weakness"])
    answer = nurse.post(address(contact), sent)
    assert answer.status_code == 422
    page = words(answer)
    assert contact.patient.site.urgent_instruction in page
    assert "Told whom: name the person who was told of the warning sign." in page
    assert "Told at: enter the time, for example 14:05." in page
    told = {
        "red_flags_told": "Spinal surgeon on call", "told_at": "00:05",
        **boxes("told_on", TODAY),
    }  # fmt: skip
    assert nurse.post(address(contact), sent | told).status_code == 302
    contact.refresh_from_db()
    assert contact.red_flags == ["leg_weakness"]
    assert contact.red_flags_told == "Spinal surgeon on call"
    assert contact.red_flags_told_at is not None


@pytest.mark.parametrize(
    ("check", "signs", "told"),
    [
        ("some", [], "tick the warning signs"),
        ("none", ["fever"], "Warning signs are ticked"),
        ("", [], "say whether you asked"),
    ],
)
def test_whether_warning_signs_were_asked_is_never_guessed(nurse, contact, check, signs, told):
    sent = typed(nurse, contact, red_flag_check=check, red_flags=signs)
    assert told in words(nurse.post(address(contact), sent))
    assert not Score.objects.exists()


def test_not_asked_is_stored_apart_from_none(nurse, contact):
    nurse.post(address(contact), typed(nurse, contact, red_flag_check="not_asked"))
    contact.refresh_from_db()
    assert contact.red_flags == []


def test_a_proxy_is_named(nurse, contact):
    nurse.post(
        address(contact), typed(nurse, contact, informant="relative", informant_name="A daughter")
    )
    contact.refresh_from_db()
    assert (contact.informant, contact.informant_name) == ("relative", "A daughter")


def test_the_day_lies_between_the_procedure_and_today(nurse, contact):
    for day, told in (
        (TODAY + timedelta(days=1), "(today)"),
        (contact.anchor_on - timedelta(days=1), "(the procedure)"),
    ):
        boxes = {"held_on_day": day.day, "held_on_month": day.month, "held_on_year": day.year}
        assert told in words(nurse.post(address(contact), typed(nurse, contact, **boxes)))


# --- the course -----------------------------------------------------------------------------


def test_the_course_shows_values_gaps_and_why(people, nurse, contact, before):
    with acting("test"):
        contact.held_on, contact.recorded_by = TODAY, people.users["nurse"]
        contact.save()
        make_score(contact, "pain_now", None)
        make_score(contact, "falls", 0)
    page = words(nurse.get(reverse("course", args=[contact.patient_id])))
    assert "Pain now, of 10: 8 (before), not given (2 to 4 weeks)" in page
    assert "not known" in page
    assert "not asked here" in page


def test_a_patient_without_contacts_has_an_empty_course(people, nurse):
    with acting("test"):
        patient = make_patient(people.site)
    assert "No contact is scheduled." in words(nurse.get(reverse("course", args=[patient.pk])))


def test_the_course_costs_the_same_for_1_treatment_and_for_5(people, nurse, contact):
    url = reverse("course", args=[contact.patient_id])
    few = queries(nurse, url)
    with acting("test"):
        for ago in (100, 200, 300, 400):
            level = f"T{ago // 100 + 5}"
            fracture = make_fracture(contact.patient.referrals.get(), level=level)
            make_review(make_procedure(
                fracture, contact.procedure.technique, people.users["consultant"],
                performed_on=TODAY - timedelta(days=ago),
            ))  # fmt: skip
    assert len(queries(nurse, url)) == len(few)


def test_the_protocol_in_force_is_asked_for_once_for_a_page(nurse, contact):
    for name in PAGES:
        asked = ["register_protocol" in sql for sql in queries(nurse, address(contact, name))]
        assert sum(asked) == 1, name
