"""The patient record: who may open it, what it shows, what it costs, what is logged."""

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils.timezone import localdate

from planning.models import Assessment
from planning.rules.outcomes import NOTICE
from planning.services.assessments import assessment_record
from register.history import acting
from register.models import AccessLog, Task
from tests.factories import (
    make_decision,
    make_fracture,
    make_measurement,
    make_patient,
    make_procedure,
    make_reading,
    make_referral,
    make_review,
    make_score,
    make_site,
    make_technique,
)
from tests.web.people import People, make_people

DAY = timedelta(days=1)


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def fracture(people):
    return a_fracture(people)


def a_fracture(people, *, site=None, **referral):
    today = localdate()
    known = {"referred_on": today - 5 * DAY, "onset_on": today - 26 * DAY}
    with acting("test"):
        patient = make_patient(site or people.site, family_name="Arden")
        return make_fracture(make_referral(patient, **(known | referral)))


def read(people, fracture, **fields):
    fields.setdefault("read_on", localdate() - DAY)
    with acting("test"):
        return make_reading(fracture, people.users["consultant"], **fields)


def assess(people, fracture):
    with acting("test"):
        return assessment_record(
            fracture=fracture, made_by=people.users["consultant"], as_of=localdate()
        )


def record(fracture):
    return reverse("patient-record", args=[fracture.patient_id])


def get(people, url, role="consultant"):
    response = people.client(role).get(url)
    assert response.status_code == 200
    return response


def text(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


# --- what is shown --------------------------------------------------------------


def test_the_page_says_whose_record_it_is_and_has_one_heading(people, fracture):
    read(people, fracture)
    response = get(people, record(fracture))

    html = response.content.decode()
    assert html.count("<h1") == 1
    assert 'class="identity"' in html
    words = text(response)
    assert "ARDEN, Maud" in words
    assert "L1, upper end plate" in words
    assert "first lumbar vertebra counted up from the sacrum" in words
    assert "day 26, 16 days left" in words


def test_the_spine_shows_each_level_once_as_drawing_and_as_list(people, fracture):
    today = localdate()
    with acting("test"):
        make_fracture(fracture.referral, level="T8", onset_on=today - 900 * DAY, state="old")
        make_fracture(fracture.referral, level="L1", onset_on=today - 950 * DAY, state="treated")

    html = get(people, record(fracture)).content.decode()

    assert "T8, old fracture" in html
    assert "L1, fracture, day 26, 2 in all" in html
    strip = html[html.index('class="strip"') : html.index("</nav>", html.index('class="strip"'))]
    assert strip.count("<li>") == 2
    assert "Other fractures" in html


def test_another_fracture_can_be_chosen_by_its_address(people, fracture):
    with acting("test"):
        other = make_fracture(fracture.referral, level="T8", state="old")

    assert "<h1>T8" in get(people, f"{record(fracture)}?fracture={other.pk}").content.decode()
    assert "<h1>L1" in get(people, f"{record(fracture)}?fracture=0").content.decode()
    assert "<h1>L1" in get(people, f"{record(fracture)}?fracture=x").content.decode()


def test_heights_and_loss_stand_beside_the_drawing(people, fracture):
    own = read(people, fracture)
    with acting("test"):
        make_measurement(own)
        above = make_reading(
            fracture, people.users["consultant"], study=own.study, level="T12",
            end_plates="none", read_on=own.read_on,
        )  # fmt: skip
        above.fracture = None
        above.save()
        make_measurement(
            above, anterior_height_mm=Decimal("25.0"), middle_height_mm=Decimal("24.0"),
            posterior_height_mm=Decimal("26.0"),
        )  # fmt: skip

    words = text(get(people, record(fracture)))

    # 1 - 15.5 / 24.0 = 35.4 % in the middle, more than the 34.4 % in front.
    for said in ("16.4 mm", "15.5 mm", "26.2 mm", "34.0 mm", "35.4 %, middle (biconcave)",
                 "against T12, same images", "2 of 3", "lying on the back",
                 "16.4° estimated from heights and depth"):  # fmt: skip
        assert said in words


def test_reasons_carry_verdict_sentence_fact_day_and_kind_of_source(people, fracture):
    read(people, fracture)
    assess(people, fracture)

    words = text(get(people, record(fracture)))

    for said in ("Pain on movement", "met", "speaks for", "Oedema on MRI (band)",
                 "published and read", "common practice, no source: confirm locally",
                 "Rule NEUROLOGY-01, version 1", NOTICE):  # fmt: skip
        assert said in words


def test_cannot_assess_is_said_and_never_looks_like_met(people):
    fracture = a_fracture(people, neurology="")
    read(people, fracture)
    assess(people, fracture)

    response = get(people, record(fracture))
    html, words = response.content.decode(), text(response)

    assert "Cannot be assessed without neurological grade" in words
    rule = html[html.index('id="rule-neurology-01"') :]
    rule = rule[: rule.index("</li>")]
    assert "cannot assess" in rule
    assert "Not recorded: neurological grade." in rule
    assert not re.search(r"verdict[^>]*>met<", rule)
    assert "Needed for any answer: neurological grade" in words
    shown = {
        reason.result.rule_id: (group, reason)
        for group in response.context["chosen"].assessment.groups
        for reason in group.reasons
    }
    group, reason = shown["NEUROLOGY-01"]
    met = next(reason for _, reason in shown.values() if reason.verdict == "met")
    assert group.title == "Cannot be assessed"
    assert not group.is_quiet
    assert reason.mark not in {"full", met.mark}
    assert "neurological grade , from a neurological examination" in words


def test_an_outdated_assessment_says_so_in_words(people, fracture):
    read(people, fracture)
    assess(people, fracture)
    read(people, fracture, oedema="whole", read_on=localdate())

    words = text(get(people, record(fracture)))

    assert "No longer up to date. Made before the reading of" in words
    assert "Assess again." in words


def test_the_urgent_pathway_stands_on_the_record_too(people):
    fracture = a_fracture(people, infection_state="suspected")

    words = text(get(people, record(fracture)))

    assert "Urgent pathway Ring the spinal surgeon on call now." in words
    assert "infection of the spine suspected, recorded" in words


def test_the_timeline_holds_everything_newest_first(people, fracture):
    today, consultant = localdate(), people.users["consultant"]
    read(people, fracture)
    assess(people, fracture)
    with acting("test"):
        make_decision(fracture, consultant, decided_on=today, reason="Fresh and severe.")
        procedure = make_procedure(
            fracture, make_technique(people.site, name="Balloon tamping"), consultant,
            performed_on=today,
        )  # fmt: skip
        review = make_review(
            procedure, anchor_on=today, target_on=today, opens_on=today, closes_on=today,
            held_on=today, recorded_by=people.users["nurse"],
        )  # fmt: skip
        make_score(review, "pain_now", 3)
        make_score(review, "pain_moving", None)
        Task.objects.create(
            patient=fracture.patient, kind="test", title="Serum light chains",
            owner=consultant, due_on=today,
        )  # fmt: skip

    response = get(people, record(fracture))
    words = text(response)

    for said in ("Referral : emergency department", "Images : MRI, read at L1", "Assessment : L1:",
                 "Decision : L1: balloon tamping and cement", "Fresh and severe.",
                 "Procedure : L1: Balloon tamping", "2 to 4 weeks: pain now 3",
                 "pain on movement not given", "Serum light chains"):  # fmt: skip
        assert said in words, said
    days = [event.day for event in response.context["record"].events]
    assert days == sorted(days, reverse=True)


def test_a_patient_without_a_fracture_has_an_empty_state(people):
    with acting("test"):
        patient = make_patient(people.site)

    words = text(get(people, reverse("patient-record", args=[patient.pk])))

    assert "No fracture recorded" in words
    assert "Enter the referral" in words


def test_a_dead_patient_is_named_as_such(people, fracture):
    with acting("test"):
        fracture.patient.date_of_death = localdate()
        fracture.patient.save()

    assert "No contact is due and nothing is planned any more." in text(
        get(people, record(fracture))
    )


def test_a_long_record_costs_as_many_queries_as_a_short_one(people, fracture):
    client = people.client("consultant")

    def fill(days):
        for day in days:
            with acting("test"):
                make_measurement(read(people, fracture, read_on=localdate() - day * DAY))
                make_decision(fracture, people.users["consultant"], decided_on=localdate())
                make_fracture(fracture.referral, level=f"T{day}", state="old")
            assess(people, fracture)

    def queries():
        with CaptureQueriesContext(connection) as log:
            assert client.get(record(fracture)).status_code == 200
        return [query["sql"] for query in log.captured_queries]

    fill([1])
    few = queries()
    fill(range(2, 10))
    many = queries()

    assert len(many) == len(few), "\n".join(sorted(set(many) - set(few)))


# --- urgency ----------------------------------------------------------------------


def test_a_person_sets_the_urgency_and_it_keeps_the_name(people, fracture):
    client, referral = people.client("nurse"), fracture.referral
    url = reverse("urgency", args=[fracture.pk])

    response = client.post(url, {"urgency": "urgent", "version": referral.version}, follow=True)

    assert "Urgency of L1 set to urgent: within days." in text(response)
    referral.refresh_from_db()
    assert referral.urgency_set_by == people.users["nurse"]
    assert referral.urgency_set_on == localdate()
    stale = client.post(url, {"urgency": "routine", "version": 1}, follow=True)
    assert "Nothing was saved" in text(stale)
    assert "It now says: urgent" in text(stale)
    assert client.get(url).status_code == 405


def test_an_unknown_urgency_changes_nothing(people, fracture):
    people.client("nurse").post(
        reverse("urgency", args=[fracture.pk]), {"urgency": "never", "version": 1}
    )

    fracture.referral.refresh_from_db()
    assert fracture.referral.urgency == ""


# --- assessing ----------------------------------------------------------------------


@pytest.mark.parametrize(("role", "status"), [("consultant", 302), ("nurse", 302), ("lead", 403)])
def test_consultant_and_nurse_may_assess(people, fracture, role, status):
    response = people.client(role).post(reverse("assess", args=[fracture.pk]))

    assert response.status_code == status
    assert Assessment.objects.count() == (status == 302)


def test_assessing_is_never_done_by_opening_an_address(people, fracture):
    assert people.client("nurse").get(reverse("assess", args=[fracture.pk])).status_code == 405


def test_a_wrong_onset_is_explained_and_nothing_is_assessed(people):
    fracture = a_fracture(people)
    with acting("test"):
        fracture.onset_on = localdate() + DAY
        fracture.save()

    response = people.client("nurse").post(reverse("assess", args=[fracture.pk]), follow=True)

    assert "Correct the onset of the fracture, then assess." in text(response)
    assert not Assessment.objects.exists()


def test_a_stored_assessment_is_shown_as_it_was(people, fracture):
    read(people, fracture)
    old = assess(people, fracture)
    with acting("test"):
        fracture.referral.cancer_history = "active"
        fracture.referral.save()
    new = assess(people, fracture)

    words = text(get(people, reverse("assessment", args=[old.pk])))

    assert "Previous cancer no" in words
    assert "There is a newer assessment" in words
    assert new.answer_words in words
    assert old.ruleset_digest in words
    assert "No longer up to date" not in text(get(people, reverse("assessment", args=[new.pk])))


# --- who may, and what is logged ------------------------------------------------------


def test_opening_a_record_is_logged_without_naming_anybody(people, fracture):
    get(people, record(fracture), "nurse")

    entry = AccessLog.objects.get()
    assert (entry.user, entry.patient) == (people.users["nurse"], fracture.patient)
    assert (entry.page, entry.reason) == ("patient-record", "")


def test_the_governance_lead_gives_a_reason_first(people, fracture):
    client = people.client("lead")
    asked = client.get(record(fracture), follow=True)
    assert "Why do you open this record?" in text(asked)
    assert "Arden" not in asked.content.decode().title()
    assert not AccessLog.objects.exists()

    url = reverse("record-reason", args=[fracture.patient_id])
    assert client.post(url, {"reason": "check"}).status_code == 422
    assert client.get(record(fracture)).status_code == 302

    reason = "Review of a complication reported in March"
    opened = client.post(url, {"reason": reason}, follow=True)

    assert "ARDEN" in text(opened)
    assert AccessLog.objects.get().reason == reason
    assert "Your role reads this record and changes nothing in it." in text(opened)


def test_a_reason_holds_for_one_patient_only(people, fracture):
    other = a_fracture(people)
    client = people.client("lead")
    client.post(
        reverse("record-reason", args=[fracture.patient_id]), {"reason": "Review of an incident"}
    )

    assert client.get(record(fracture)).status_code == 200
    assert client.get(record(other)).status_code == 302


def test_the_lead_may_press_nothing_on_the_record(people, fracture):
    assess(people, fracture)
    client = people.client("lead")
    client.post(
        reverse("record-reason", args=[fracture.patient_id]), {"reason": "Review of an incident"}
    )

    html = client.get(record(fracture)).content.decode()
    main = html[html.index("<main") : html.index("</main>")]

    assert "<form" not in main
    assert reverse("decide", args=[fracture.pk]) not in main


def test_the_administrator_sees_no_patient(people, fracture):
    assert people.client("administrator").get(record(fracture)).status_code == 403


@pytest.mark.parametrize("name", ["patient-record", "urgency", "assess", "decide", "assessment"])
def test_another_departments_patient_does_not_exist(people, name):
    with acting("test"):
        stranger = a_fracture(people, site=make_site())
    made = assess(people, stranger)
    key = {"patient-record": stranger.patient_id, "assessment": made.pk}.get(name, stranger.pk)
    method = "post" if name in ("urgency", "assess") else "get"

    response = getattr(people.client("consultant"), method)(reverse(name, args=[key]))

    assert response.status_code == 404


def test_a_treated_fracture_has_no_clock_and_no_urgency(people, fracture):
    assert "16 days left" in text(get(people, record(fracture)))
    with acting("test"):
        fracture.state = "treated"
        fracture.save()

    words = text(get(people, record(fracture)))

    assert "16 days left" not in words
    assert "Set urgency" not in words


def test_a_neighbour_is_drawn_as_what_it_is(people, fracture):
    with acting("test"):
        make_fracture(fracture.referral, level="T12", state="treated", onset_on=None,
                      onset_precision="")  # fmt: skip
        make_fracture(fracture.referral, level="L2", state="old", onset_on=None,
                      onset_precision="")  # fmt: skip

    closeup = get(people, record(fracture)).context["chosen"].closeup

    assert (closeup.above.state, closeup.body.state, closeup.below.state) == (
        "treated",
        "fracture",
        "old",
    )
