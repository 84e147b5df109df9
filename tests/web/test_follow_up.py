"""Follow-up through its pages: who sees what, what is refused, what is kept."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import localdate

from register.history import acting
from register.history.reading import changes_of_row
from register.models import Attempt, Draft, FormReceipt, Patient, PatientPhone, Review, Score
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_score,
    make_site,
    make_technique,
    make_user,
)
from tests.web.people import People, make_people

DUE = reverse("follow-up-due")
PAGES = ("review", "attempt-new")
TODAY = localdate()


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def nurse(people):
    return people.client("nurse")


@pytest.fixture
def contact(people):
    with acting("test"):
        return make_contact(people.site)


def make_contact(site, patient=None, ago=20, technique=None, operator=None, **fields) -> Review:
    """The contact 2 to 4 weeks after a procedure that many days ago."""
    patient = patient or make_patient(site)
    fracture = make_fracture(make_referral(patient, onset_on=None, onset_precision=""))
    technique = technique or make_technique(site, name=f"Balloon tamping {patient.pk}")
    procedure = make_procedure(
        fracture,
        technique,
        operator or make_user(site, "consultant"),
        performed_on=TODAY - timedelta(ago),
    )
    return make_review(procedure, **fields)


def address(contact, name="review"):
    return reverse(name, args=[contact.pk])


def boxes(name, day):
    return {f"{name}_day": day.day, f"{name}_month": day.month, f"{name}_year": day.year}


def typed(client, contact, **changes):
    """What the page sends when its boxes are filled; taken from the page itself."""
    form = client.get(address(contact)).context["form"]
    scores = {code: "1" for code in form.entry.asked}
    return (
        {
            "token": form["token"].value(),
            "version": form["version"].value(),
            "held_on_day": str(TODAY.day),
            "held_on_month": str(TODAY.month),
            "held_on_year": str(TODAY.year),
            "mode": "telephone",
            "informant": "patient",
            "red_flag_check": "none",
        }
        | scores
        | changes
    )


def values(contact):
    return {s.instrument: s.value for s in Score.objects.live().filter(review=contact)}


def words(answer) -> str:
    return answer.content.decode()


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


def queries(client, url):
    with CaptureQueriesContext(connection) as log:
        answer = client.get(url)
    assert answer.status_code == 200
    return [query["sql"] for query in log.captured_queries]


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


# --- twice, at the same time, later ----------------------------------------------


def test_fifty_presses_make_one_contact(nurse, contact):
    sent = typed(nurse, contact)
    answers = [nurse.post(address(contact), sent) for _ in range(50)]
    assert {answer.url for answer in answers} == {DUE}
    contact.refresh_from_db()
    assert contact.version == 2
    assert len(values(contact)) == 8
    assert FormReceipt.objects.count() == 1


def test_fifty_presses_note_one_try_and_a_page_from_back_notes_another(people, nurse, contact):
    form = nurse.get(address(contact, "attempt-new")).context["form"]
    sent = {
        "token": form["token"].value(), "mode": "telephone", "outcome": "no_answer",
        **boxes("made_on", TODAY - timedelta(1)), "made_at": "10:05",
    }  # fmt: skip
    for _ in range(50):
        assert nurse.post(address(contact, "attempt-new"), sent).url == DUE
    assert Attempt.objects.count() == 1
    nurse.post(address(contact, "attempt-new"), sent | {"made_at": "11:05"})
    assert Attempt.objects.count() == 2


def test_the_second_of_two_people_sees_both_values_and_loses_no_typing(people, nurse, contact):
    other = people.client("consultant")
    mine, theirs = (
        typed(nurse, contact, pain_now="3"),
        typed(other, contact, pain_now="5", note="x"),
    )
    mine["pain_worst"] = theirs["pain_worst"] = "6"
    assert other.post(address(contact), theirs).status_code == 302
    answer = nurse.post(address(contact), mine)
    assert answer.status_code == 422
    told = {d.label: (d.theirs, d.yours) for d in answer.context["form"].conflict.differences}
    assert told["Pain now"] == ("5", "3")
    assert told["Note"][0] == "x"
    assert 'name="pain_now" value="3"' in words(answer)
    assert values(contact)["pain_now"] == 5
    again = mine | {"version": answer.context["form"]["version"].value()}
    assert nurse.post(address(contact), again).status_code == 302
    assert values(contact)["pain_now"] == 3


def test_an_amendment_may_say_why_and_the_first_record_is_not_asked(nurse, contact):
    assert "why_changed" not in nurse.get(address(contact)).context["form"].fields
    nurse.post(address(contact), typed(nurse, contact))
    why = "The scale was read the wrong way round."
    nurse.post(address(contact), typed(nurse, contact, pain_moving="4", why_changed=why))
    score = Score.objects.get(review=contact, instrument="pain_moving")
    assert (score.value, changes_of_row(score)[-1].reason) == (4, why)


def test_an_amended_score_is_shown_with_what_stood_before(people, nurse, contact):
    nurse.post(address(contact), typed(nurse, contact, pain_now="4", pain_worst="6"))
    nurse.post(
        address(contact),
        typed(nurse, contact, pain_now="", pain_now_absent="declined", pain_worst="6"),
    )
    page = words(nurse.get(address(contact)))
    assert "Pain now: 4, then declined" in page
    assert people.users["nurse"].username in page
    assert Score.objects.filter(review=contact, instrument="pain_now").count() == 1


def test_typing_is_kept_for_its_author_and_goes_when_saved(people, nurse, contact):
    kept = nurse.post(
        address(contact, "review-draft"), {"pain_now": "6", "version": "1", "note": "cut"}
    )
    assert kept.json() == {"words": "Typing kept."}
    page = words(nurse.get(address(contact)))
    assert 'name="pain_now" value="6"' in page
    assert "Not saved yet." in page
    assert "Not saved yet." not in words(people.client("consultant").get(address(contact)))
    nurse.post(address(contact), typed(nurse, contact, pain_now="6", pain_worst="6"))
    assert not Draft.objects.exists()


def test_a_draft_can_be_given_up(nurse, contact):
    nurse.post(address(contact, "review-draft"), {"pain_now": "6"})
    nurse.post(address(contact, "review-draft"), {"give_up": "yes"})
    assert not Draft.objects.exists()


def test_a_draft_typed_over_an_older_version_meets_the_conflict(people, nurse, contact):
    nurse.post(address(contact, "review-draft"), {"pain_now": "6", "version": "1"})
    other = people.client("consultant")
    other.post(address(contact), typed(other, contact))
    assert nurse.post(address(contact), typed(nurse, contact)).status_code == 422


def test_more_than_typing_is_not_kept_as_a_draft(nurse, contact):
    answer = nurse.post(address(contact, "review-draft"), {"note": "x" * 20_001})
    assert answer.status_code == 422
    assert not Draft.objects.exists()


# --- attempts and ends --------------------------------------------------------------


def test_a_try_that_reached_somebody_leads_to_the_scores(nurse, contact):
    form = nurse.get(address(contact, "attempt-new")).context["form"]
    sent = {
        "token": form["token"].value(), "mode": "telephone", "outcome": "reached",
        **boxes("made_on", TODAY - timedelta(1)), "made_at": "10.05",
    }  # fmt: skip
    assert nurse.post(address(contact, "attempt-new"), sent).url == address(contact)


def end(contact):
    return reverse("follow-up-end", args=[contact.patient_id])


def ended(nurse, contact, **changes):
    form = nurse.get(end(contact)).context["form"]
    return {
        "version": form["version"].value(), "end": "dead", "ended_on_day": str(TODAY.day),
        "ended_on_month": str(TODAY.month), "ended_on_year": str(TODAY.year),
        "source": "hospital system",
    } | changes  # fmt: skip


def test_an_end_is_saved_only_after_its_consequences_were_named(nurse, contact):
    sent = ended(nurse, contact)
    asked = nurse.post(end(contact), sent)
    assert asked.status_code == 200
    assert "1 open contact: not listed any more" in words(asked)
    assert "becomes the date of death" in words(asked)
    contact.patient.refresh_from_db()
    assert contact.patient.follow_up_end == ""
    confirmed = {"confirmed": asked.context["form"].decision}
    nurse.post(end(contact), sent | confirmed | {"source": "the daughter"})
    contact.patient.refresh_from_db()
    assert contact.patient.follow_up_end == "", "a changed answer is asked about again"
    nurse.post(end(contact), sent | confirmed)
    contact.patient.refresh_from_db()
    assert (contact.patient.follow_up_end, contact.patient.date_of_death) == ("dead", TODAY)


def test_an_end_can_be_taken_back_with_the_date_of_death(nurse, contact):
    sent = ended(nurse, contact)
    nurse.post(
        end(contact), sent | {"confirmed": nurse.post(end(contact), sent).context["form"].decision}
    )
    back = ended(nurse, contact, end="goes_on")
    asked = nurse.post(end(contact), back)
    assert "is removed." in words(asked)
    nurse.post(end(contact), back | {"confirmed": asked.context["form"].decision})
    contact.patient.refresh_from_db()
    assert (contact.patient.follow_up_end, contact.patient.date_of_death) == ("", None)


def test_nobody_dies_before_a_contact_that_was_held(people, nurse, contact):
    with acting("test"):
        Review.objects.filter(pk=contact.pk).update(
            held_on=TODAY, recorded_by=people.users["nurse"]
        )
    day = TODAY - timedelta(days=1)
    sent = ended(nurse, contact, ended_on_day=str(day.day), ended_on_month=str(day.month))
    sent["ended_on_year"] = str(day.year)
    asked = nurse.post(end(contact), sent)
    answer = nurse.post(end(contact), sent | {"confirmed": asked.context["form"].decision})
    assert answer.status_code == 422
    assert "Correct this day, or the contact first." in words(answer)


@pytest.mark.parametrize("missing", ["source", "ended_on_day"])
def test_an_end_needs_day_and_source(nurse, contact, missing):
    assert nurse.post(end(contact), ended(nurse, contact, **{missing: ""})).status_code == 422


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
