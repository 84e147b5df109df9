"""The decision page: the assessment as shown, the choice, the reason, the second name."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils.timezone import localdate

from planning.models import Decision
from planning.services.assessments import assessment_record
from register.domain.days import day_words
from register.history import acting
from register.models import Review
from tests.factories import make_fracture, make_patient, make_reading, make_referral, make_user
from tests.web.people import People, make_people

DAY = timedelta(days=1)


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


def a_fracture(people, **referral):
    today = localdate()
    known = {"referred_on": today - 5 * DAY, "onset_on": today - 26 * DAY}
    with acting("test"):
        patient = make_patient(people.site, family_name="Arden")
        fracture = make_fracture(make_referral(patient, **(known | referral)))
        make_reading(fracture, people.users["consultant"], read_on=today - DAY)
    return fracture


def assess(people, fracture):
    with acting("test"):
        return assessment_record(
            fracture=fracture, made_by=people.users["consultant"], as_of=localdate()
        )


def url(fracture):
    return reverse("decide", args=[fracture.pk])


def typed(fracture, assessment=None, **fields):
    """What the browser sends."""
    today = localdate()
    return {
        "version": fracture.version,
        "assessment": assessment.pk if assessment else "",
        "route": "conservative",
        "reason": "Pain settles on simple analgesia.",
        "decided_on_day": today.day,
        "decided_on_month": today.month,
        "decided_on_year": today.year,
        "second_name": "",
        "team_present": "",
    } | fields


def post(people, fracture, role="consultant", **fields):
    return people.client(role).post(url(fracture), typed(fracture, **fields), follow=True)


def text(response):
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", response.content.decode()))


@pytest.mark.parametrize(
    ("role", "status"),
    [("consultant", 200), ("nurse", 403), ("lead", 403), ("administrator", 403)],
)
def test_only_a_consultant_decides(people, role, status):
    fracture = a_fracture(people)

    assert people.client(role).get(url(fracture)).status_code == status
    people.client(role).post(url(fracture), typed(fracture))
    assert Decision.objects.count() == (role == "consultant")


def test_the_assessment_stands_beside_the_choice(people):
    fracture = a_fracture(people, pain_trend="improving")
    made = assess(people, fracture)

    words = text(people.client("consultant").get(url(fracture)))

    assert made.answer_words in words
    assert "Pain is improving" in words
    assert "cement alone (speaks against it, needs a second name)" in words
    assert "continued conservative care (" not in words
    assert "for ARDEN, Maud, L1" in words
    assert "decides nothing" in words


def test_conservative_care_moves_the_fracture_and_schedules_its_contacts(people):
    fracture = a_fracture(people)

    response = post(people, fracture)

    fracture.refresh_from_db()
    assert fracture.state == "conservative"
    assert "Decision on L1 saved: continued conservative care." in text(response)
    assert "Pain settles on simple analgesia." in text(response)
    assert Review.objects.filter(fracture=fracture, anchor_on=localdate()).exists()


def test_a_procedure_keeps_the_assessment_that_was_shown(people):
    fracture = a_fracture(people)
    made = assess(people, fracture)

    post(people, fracture, assessment=made, route="balloon", team_present="Two consultants")

    decision = Decision.objects.get()
    assert (decision.assessment, decision.route) == (made, "balloon")
    assert decision.made_by == people.users["consultant"]
    assert decision.team_present == "Two consultants"


def test_the_team_meeting_is_kept(people):
    fracture = a_fracture(people)
    day = localdate() - 2 * DAY

    post(people, fracture, team_meeting_on_day=day.day, team_meeting_on_month=day.month,
         team_meeting_on_year=day.year)  # fmt: skip

    assert Decision.objects.get().team_meeting_on == day


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"reason": " "}, "Give the reason for this decision."),
        ({"route": ""}, "Choose what was decided."),
        ({"decided_on_day": ""}, "Decided on: enter the day of the month"),
        ({"route": "balloon"}, "This fracture has not been assessed. Assess it first"),
    ],
)
def test_what_is_missing_is_said_and_what_was_typed_is_kept(people, fields, message):
    fracture = a_fracture(people)

    response = post(people, fracture, **({"reason": "Kept as typed."} | fields))

    assert response.status_code == 422
    assert message in text(response)
    assert "Nothing was saved yet" in text(response)
    assert ("Kept as typed." in text(response)) or "reason" in fields
    assert not Decision.objects.exists()


def test_a_decision_of_tomorrow_is_refused(people):
    fracture, day = a_fracture(people), localdate() + DAY

    response = post(people, fracture, decided_on_day=day.day, decided_on_month=day.month,
                    decided_on_year=day.year)  # fmt: skip

    assert f"must be on or before {day_words(localdate())} (today)" in text(response)


def test_going_against_the_assessment_needs_a_second_name_and_is_said(people):
    with acting("test"):
        colleague = make_user(people.site, "consultant", first_name="Ben", last_name="Other")
    fracture = a_fracture(people, pain_trend="improving")
    made = assess(people, fracture)

    refused = post(people, fracture, assessment=made, route="balloon", reason="Wishes it.")
    assert refused.status_code == 422
    assert "This goes against what the assessment says: Pain is improving" in text(refused)
    assert "Add the name of another consultant" in text(refused)
    assert "Wishes it." in text(refused)

    saved = post(people, fracture, assessment=made, route="balloon", second_name=colleague.pk)

    assert "second name Ben Other" in text(saved)
    assert "Against what the assessment said:" in text(saved)


def test_only_other_consultants_of_the_department_are_offered_as_second_name(people):
    with acting("test"):
        colleague = make_user(people.site, "consultant", first_name="Ben", last_name="Other")
        make_user(people.site, "consultant", first_name="Gone", last_name="Away", is_active=False)
    response = people.client("consultant").get(url(a_fracture(people)))

    assert list(response.context["form"].fields["second_name"].queryset) == [colleague]


def test_an_assessment_made_meanwhile_is_read_first(people):
    fracture = a_fracture(people)
    old = assess(people, fracture)
    new = assess(people, fracture)

    response = post(people, fracture, assessment=old, route="balloon")

    assert response.status_code == 422
    assert "The fracture was assessed again while you had this page open." in text(response)
    assert f'name="assessment" value="{new.pk}"' in response.content.decode()
    assert not Decision.objects.exists()


def test_somebody_who_decided_meanwhile_is_not_overwritten(people):
    fracture = a_fracture(people)
    before = typed(fracture, reason="My own words.")
    post(people, fracture, route="investigate")

    response = people.client("consultant").post(url(fracture), before)

    assert response.status_code == 422
    words = text(response)
    assert "Somebody else changed this entry while you had it open." in words
    assert "The fracture is now: waiting for a decision or a procedure." in words
    assert "My own words." in words
    assert Decision.objects.count() == 1
    again = re.search(r'name="version" value="(\d+)"', response.content.decode())
    assert again is not None
    fracture.refresh_from_db()
    assert int(again.group(1)) == fracture.version


def test_an_outdated_assessment_is_not_decided_upon(people):
    fracture = a_fracture(people)
    made = assess(people, fracture)
    with acting("test"):
        fracture.referral.neurology = "N1"
        fracture.referral.save()
    client = people.client("consultant")

    assert "No longer up to date. Made before a change" in text(client.get(url(fracture)))
    response = post(people, fracture, assessment=made, route="balloon")

    assert "The assessment no longer stands." in text(response)
    assert not Decision.objects.exists()


def test_one_can_assess_from_here_and_come_back(people):
    fracture = a_fracture(people)
    client = people.client("consultant")
    assert "Not assessed yet." in text(client.get(url(fracture)))

    response = client.post(
        reverse("assess", args=[fracture.pk]), {"next": "decide", "stage": "decision"}
    )

    assert response.url == url(fracture)
    assert fracture.assessments.get().stage == "decision"


def test_a_field_that_is_not_on_the_form_changes_nothing(people):
    fracture = a_fracture(people)

    post(people, fracture, made_by=people.users["nurse"].pk, against_rules="[]", state="treated")

    decision = Decision.objects.get()
    fracture.refresh_from_db()
    assert decision.made_by == people.users["consultant"]
    assert fracture.state == "conservative"
