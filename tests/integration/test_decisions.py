"""Decisions: who may, what they need, what becomes of the fracture."""

import sys
from datetime import timedelta
from types import ModuleType

import pytest
from django.core.exceptions import ValidationError

from planning.errors import PlanningError
from planning.models import Decision
from planning.rules.outcomes import Stage
from planning.services.assessments import assessment_record
from planning.services.decisions import decision_record, rules_against
from planning.services.urgency import urgency_set
from register.domain.vocabulary import ROUTE, codes
from register.services.editing import EditConflict
from tests.factories import (
    TODAY,
    make_entry,
    make_fracture,
    make_patient,
    make_plan,
    make_reading,
    make_referral,
    make_session,
    make_site,
    make_technique,
    make_user,
)

pytestmark = pytest.mark.usefixtures("acting_tester")


@pytest.fixture
def consultant(db):
    return make_user(make_site(), "consultant")


@pytest.fixture
def colleague(consultant):
    return make_user(consultant.site, "consultant")


@pytest.fixture(autouse=True)
def scheduled(monkeypatch):
    """Stand in for the follow-up service and keep what it was asked."""
    calls = []
    module = ModuleType("register.services.outcomes")
    module.reviews_schedule = lambda **asked: calls.append(asked)
    monkeypatch.setitem(sys.modules, "register.services.outcomes", module)
    return calls


def a_fracture(by, **referral):
    fracture = make_fracture(make_referral(make_patient(by.site), **referral))
    make_reading(fracture, by)
    return fracture


def assess(fracture, by, on=TODAY):
    return assessment_record(fracture=fracture, made_by=by, as_of=on)


def decide(fracture, by, route="balloon", **fields):
    fields.setdefault("reason", "Severe pain, fresh fracture.")
    fields.setdefault("decided_on", TODAY)
    return decision_record(fracture=fracture, route=route, made_by=by, **fields)


@pytest.mark.parametrize(
    ("route", "state"),
    [
        ("conservative", "conservative"),
        ("cement", "listed"),
        ("balloon", "listed"),
        ("expandable", "listed"),
        ("fixation", "listed"),
        ("investigate", "waiting"),
        ("urgent_spinal", "transferred"),
    ],
)
def test_each_route_moves_the_fracture_on(consultant, route, state):
    fracture = a_fracture(consultant)

    decision = decide(fracture, consultant, route, assessment=assess(fracture, consultant))

    fracture.refresh_from_db()
    assert (fracture.state, fracture.version) == (state, 2)
    assert decision.against_rules == []


def test_every_route_has_a_state():
    from planning.services.decisions import STATE_AFTER

    assert set(STATE_AFTER) == set(codes(ROUTE))


def test_conservative_care_schedules_its_contacts_and_a_procedure_does_not(consultant, scheduled):
    fracture, other = a_fracture(consultant), a_fracture(consultant)
    decide(fracture, consultant, "conservative")
    decide(other, consultant, assessment=assess(other, consultant))

    assert [(c["fracture"], c["anchor_on"]) for c in scheduled] == [(fracture, TODAY)]


def test_a_reason_is_compulsory_and_nothing_is_saved_without_it(consultant):
    fracture = a_fracture(consultant)

    with pytest.raises(ValidationError, match="cannot be blank"):
        decide(fracture, consultant, "conservative", reason="")

    fracture.refresh_from_db()
    assert (fracture.state, Decision.objects.count()) == ("waiting", 0)


def test_a_procedure_needs_an_assessment(consultant):
    with pytest.raises(PlanningError, match="Assess it first"):
        decide(a_fracture(consultant), consultant)


def test_a_procedure_is_not_decided_on_an_outdated_assessment(consultant):
    fracture = a_fracture(consultant)
    old = assess(fracture, consultant)
    fracture.referral.neurology = "N3"
    fracture.referral.save()

    with pytest.raises(PlanningError, match=r"neurological grade.*Assess again"):
        decide(fracture, consultant, assessment=old)


def test_a_procedure_is_not_decided_on_triage_alone(consultant):
    fracture = a_fracture(consultant)
    triage = assessment_record(
        fracture=fracture, made_by=consultant, as_of=TODAY, stage=Stage.TRIAGE
    )

    with pytest.raises(PlanningError, match="Assess for the decision"):
        decide(fracture, consultant, assessment=triage)


def test_a_decision_of_yesterday_may_rest_on_an_assessment_of_today(consultant):
    fracture = a_fracture(consultant)
    made = assess(fracture, consultant)

    decide(fracture, consultant, assessment=made, decided_on=TODAY - timedelta(days=1))

    assert Decision.objects.get().assessment == made


def test_going_against_a_rule_needs_another_consultant(consultant, colleague):
    fracture = a_fracture(consultant, pain_trend="improving")
    made = assess(fracture, consultant)
    with pytest.raises(PlanningError, match=r"Pain is improving.*another consultant"):
        decide(fracture, consultant, assessment=made)

    decision = decide(fracture, consultant, assessment=made, second_name=colleague)

    assert [rule["rule"] for rule in decision.against_rules] == ["PAIN-05"]
    assert "improving" in decision.against_rules[0]["sentence"]
    assert decision.second_name == colleague


def test_no_operation_does_not_go_against_a_rule_that_rules_out_operations(consultant):
    fracture = a_fracture(consultant, pain_trend="improving")

    decision = decide(fracture, consultant, "conservative", assessment=assess(fracture, consultant))

    assert decision.against_rules == []


@pytest.mark.parametrize("route", [code for code in codes(ROUTE) if code != "urgent_spinal"])
def test_an_urgent_referral_speaks_against_every_other_route(consultant, route):
    fracture = a_fracture(consultant, neurology="N3")
    made = assess(fracture, consultant)

    assert [rule["rule"] for rule in rules_against(made, route)] == ["NEUROLOGY-01"]
    with pytest.raises(PlanningError, match="another consultant"):
        decide(fracture, consultant, route, assessment=made)


def test_the_urgent_opinion_itself_needs_no_second_name(consultant):
    fracture = a_fracture(consultant, neurology="N3")
    made = assess(fracture, consultant)

    assert decide(fracture, consultant, "urgent_spinal", assessment=made).against_rules == []


def test_a_rule_speaks_only_against_the_routes_it_names(consultant):
    fracture = a_fracture(consultant)
    reading = fracture.readings.get()
    reading.tension_band = "injured"
    reading.save()
    made = assess(fracture, consultant)

    assert rules_against(made, "balloon")
    assert rules_against(made, "fixation") == []


@pytest.mark.parametrize("role", ["nurse", "lead", "administrator", ""])
def test_only_a_consultant_decides_or_is_the_second_name(consultant, role):
    other = make_user(consultant.site, role)
    fracture = a_fracture(consultant)

    with pytest.raises(PlanningError, match="Only a consultant"):
        decide(fracture, other, "conservative")
    with pytest.raises(PlanningError, match="another consultant"):
        decide(fracture, consultant, "conservative", second_name=other)


def test_nobody_is_his_own_second_name_and_no_stranger_is(consultant):
    stranger = make_user(make_site(), "consultant")
    fracture = a_fracture(consultant)

    for name in (consultant, stranger):
        with pytest.raises(PlanningError, match="another consultant"):
            decide(fracture, consultant, "conservative", second_name=name)
    with pytest.raises(PlanningError, match="of this department"):
        decide(fracture, stranger, "conservative")


def test_somebody_who_changed_the_fracture_in_between_is_not_overwritten(consultant):
    fracture = a_fracture(consultant)

    with pytest.raises(EditConflict):
        decide(fracture, consultant, "conservative", expected_version=fracture.version - 1)


def test_a_treated_fracture_and_a_dead_patient_are_refused(consultant):
    treated = a_fracture(consultant)
    treated.state = "treated"
    with pytest.raises(PlanningError, match="treated"):
        decide(treated, consultant, "conservative")

    fracture = a_fracture(consultant)
    fracture.patient.date_of_death = TODAY
    with pytest.raises(PlanningError, match="died on 07 Mar 2027"):
        decide(fracture, consultant, "conservative")


def test_a_listed_case_is_taken_off_the_list_before_it_is_decided_otherwise(consultant):
    fracture = a_fracture(consultant)
    decision = decide(fracture, consultant, assessment=assess(fracture, consultant))
    plan = make_plan(decision, make_technique(consultant.site))
    entry = make_entry(make_session(consultant.site), plan)
    with pytest.raises(PlanningError, match="theatre list of 07 Mar 2027"):
        decide(fracture, consultant, "conservative")

    entry.state, entry.cancelled_reason = "cancelled", "settled"
    entry.save()

    assert decide(fracture, consultant, "conservative").route == "conservative"


def test_urgency_has_a_name_and_a_day(consultant):
    referral = make_referral(make_patient(consultant.site))

    urgency_set(referral=referral, urgency="urgent", on=TODAY, user=consultant, expected_version=1)

    referral.refresh_from_db()
    assert (referral.urgency, referral.urgency_set_by) == ("urgent", consultant)
    assert (referral.urgency_set_on, referral.version) == (TODAY, 2)
    with pytest.raises(EditConflict):
        urgency_set(referral=referral, urgency="", on=TODAY, user=consultant, expected_version=1)
