"""Assessments: what is kept, and when one no longer stands."""

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from planning.errors import PlanningError
from planning.freshness import _of_facts
from planning.models import Assessment
from planning.rules.answer import AnswerKind
from planning.rules.facts import FACT_NAMES, CaseFacts, fact_info
from planning.rules.lock import plain_case
from planning.rules.outcomes import NOTICE, Stage
from planning.services.assessments import assessment_record
from planning.services.decisions import freshness_of, newest_assessment
from planning.services.protocols import in_force, protocol_in_force, protocol_install_shipped
from register.models import Fracture, LaboratoryResult, Protocol
from tests.factories import (
    TODAY,
    make_decision,
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
DAY = timedelta(days=1)


@pytest.fixture
def consultant(db):
    return make_user(make_site(), "consultant")


@pytest.fixture
def fracture(consultant):
    return make_fracture(make_referral(make_patient(consultant.site)))


def assess(fracture, by, on=TODAY, **options):
    return assessment_record(fracture=fracture, made_by=by, as_of=on, **options)


# --- the protocol -----------------------------------------------------------


def test_a_department_gets_the_shipped_protocol_once(consultant):
    first = protocol_in_force(consultant.site, TODAY)
    again = protocol_install_shipped(site=consultant.site)

    assert first == again == protocol_in_force(consultant.site, TODAY - 500 * DAY)
    assert Protocol.objects.filter(site=consultant.site).count() == 1
    assert in_force(consultant.site, TODAY).window_days == 42


def test_a_proposal_is_not_in_force_before_approval_nor_before_its_day(consultant):
    shipped = protocol_in_force(consultant.site, TODAY)
    lead = make_user(consultant.site, "lead")
    own = Protocol.objects.create(
        site=consultant.site, name="Ours", starts_on=TODAY, values=shipped.values,
        ruleset_id=shipped.ruleset_id, ruleset_digest=shipped.ruleset_digest, digest="1" * 64,
        proposed_by=lead,
    )  # fmt: skip
    assert protocol_in_force(consultant.site, TODAY) == shipped

    own.approved_by, own.approved_on = consultant, TODAY
    own.save()

    assert protocol_in_force(consultant.site, TODAY) == own
    assert protocol_in_force(consultant.site, TODAY - DAY) == shipped


# --- what is kept -----------------------------------------------------------


def test_everything_that_was_shown_is_kept(fracture, consultant):
    make_reading(fracture, consultant)

    made = assess(fracture, consultant)

    made.refresh_from_db()
    current = in_force(consultant.site, TODAY)
    results = list(made.results.all())
    assert CaseFacts.from_json(made.facts).oedema == "band"
    assert made.ruleset_digest == current.rules.digest()
    assert made.protocol == current.protocol
    assert [r.rule_id for r in results] == [rule.id for rule in current.rules.rules]
    assert all(r.sentence and r.sources and r.sources[0]["words"] for r in results)
    assert made.stage == Stage.DECISION
    assert NOTICE.startswith("This assessment supports trained clinicians and decides nothing.")


def test_assessing_again_adds_a_row(fracture, consultant):
    first = assess(fracture, consultant)
    second = assess(fracture, consultant)

    assert set(Assessment.objects.filter(fracture=fracture)) == {first, second}
    assert newest_assessment(fracture) == second


def test_what_is_missing_and_what_would_change_the_answer_are_kept_in_words(consultant):
    referral = make_referral(make_patient(consultant.site), neurology="")
    fracture = make_fracture(referral)
    make_reading(fracture, consultant)

    made = assess(fracture, consultant)

    assert made.answer == AnswerKind.CANNOT_ASSESS
    assert made.answer_words == "Cannot be assessed without neurological grade"
    missing = {entry["words"]: entry for entry in made.missing}
    assert missing["neurological grade"]["decides"] is True
    assert missing["neurological grade"]["provided_by"] == "a neurological examination"
    change = next(c for c in made.would_change if c["fact"] == "neurology")
    assert {"urgent"} < {answer["kind"] for answer in change["answers"]}


def test_a_bare_fracture_can_be_assessed_and_fits_the_columns(consultant):
    """The longest answer there is: nothing is recorded."""
    bare = Fracture.objects.create(patient=make_patient(consultant.site), level="T9")

    made = assess(bare, consultant)

    assert made.answer == AnswerKind.CANNOT_ASSESS
    assert made.stage == Stage.TRIAGE


def test_a_result_says_what_is_to_be_done_by_whom(consultant):
    referral = make_referral(make_patient(consultant.site), infection_state="treated")
    made = assess(make_fracture(referral), consultant)

    result = made.results.get(rule_id="INFECTION-01")

    assert result.effect == "not_yet"
    assert result.action["who"] == "treating team"


def test_rules_of_a_later_stage_say_by_when_they_are_due(fracture, consultant):
    made = assess(fracture, consultant, stage=Stage.TRIAGE)

    result = made.results.get(rule_id="BLEEDING-01")

    assert (result.due, result.effect) == ("plan", "")
    assert result.sentence.startswith("Due by the plan")


# --- the stage --------------------------------------------------------------


def test_the_stage_follows_the_record(fracture, consultant):
    assert assess(fracture, consultant).stage == Stage.TRIAGE
    make_reading(fracture, consultant)
    assert assess(fracture, consultant).stage == Stage.DECISION
    plan = make_plan(make_decision(fracture, consultant), make_technique(consultant.site))
    assert assess(fracture, consultant).stage == Stage.PLAN
    make_entry(make_session(consultant.site, held_on=TODAY), plan)
    assert assess(fracture, consultant).stage == Stage.DAY


# --- refusals ---------------------------------------------------------------


def test_an_onset_after_the_day_is_refused_with_what_to_do(fracture, consultant):
    with pytest.raises(PlanningError, match="Correct the onset"):
        assess(fracture, consultant, on=TODAY - 27 * DAY)
    assert not Assessment.objects.exists()


def test_a_voided_fracture_is_refused(fracture, consultant):
    fracture.voided_at, fracture.void_reason = timezone.now(), "wrong level"
    fracture.save()

    with pytest.raises(PlanningError, match="voided"):
        assess(fracture, consultant)


# --- freshness --------------------------------------------------------------


def words(assessment, on=TODAY):
    return freshness_of(assessment, on=on).words


def test_an_assessment_stands_while_nothing_changes(fracture, consultant):
    make_reading(fracture, consultant)

    assert words(assess(fracture, consultant)) == ""


def test_a_newer_reading_outdates_it_by_name(fracture, consultant):
    make_reading(fracture, consultant)
    made = assess(fracture, consultant)
    make_reading(fracture, consultant, oedema="whole", end_plates="", posterior_wall="",
                 read_on=TODAY)  # fmt: skip

    assert words(made) == ("Made before the reading of 07 Mar 2027 (oedema on MRI). Assess again.")


def test_a_newer_reading_that_says_the_same_on_another_day_keeps_it(fracture, consultant):
    make_reading(fracture, consultant)
    made = assess(fracture, consultant)
    make_reading(fracture, consultant, read_on=TODAY)

    assert words(made) == ""


def test_a_correction_of_the_record_outdates_it(fracture, consultant):
    made = assess(fracture, consultant)
    fracture.referral.cancer_history = "active"
    fracture.referral.save()

    assert words(made) == "Made before a change of the record (previous cancer). Assess again."


def test_a_voided_row_outdates_it(fracture, consultant):
    reading = make_reading(fracture, consultant)
    made = assess(fracture, consultant)
    reading.voided_at, reading.void_reason = timezone.now(), "wrong patient"
    reading.save()

    assert "oedema on MRI" in words(made)


def test_a_blood_test_outdates_it(fracture, consultant):
    made = assess(fracture, consultant)
    LaboratoryResult.objects.create(
        patient=fracture.patient, analyte="inr", value=Decimal("2.4"), unit="ratio", taken_on=TODAY
    )

    assert words(made) == "Made before the blood test of 07 Mar 2027 (INR). Assess again."


def test_the_clock_outdates_it(fracture, consultant):
    """Onset 26 days before; the window of 42 days closes on 23 Mar."""
    made = assess(fracture, consultant)

    assert words(made, on=TODAY + 16 * DAY) == ""
    assert words(made, on=TODAY + 17 * DAY) == "The window has closed since. Assess again."


def test_a_later_stage_outdates_it(fracture, consultant):
    make_reading(fracture, consultant)
    made = assess(fracture, consultant)
    make_decision(fracture, consultant)

    assert words(made) == "Made for the decision; rules of the plan are due. Assess again."


def test_another_protocol_outdates_it(fracture, consultant):
    made = assess(fracture, consultant)
    shipped = made.protocol
    Protocol.objects.create(
        site=consultant.site, name="Ours", starts_on=TODAY, values=shipped.values,
        ruleset_id=shipped.ruleset_id, ruleset_digest=shipped.ruleset_digest, digest="1" * 64,
        approved_by=consultant, approved_on=TODAY, proposed_by=make_user(consultant.site, "lead"),
    )  # fmt: skip

    assert words(made) == "Made under an earlier protocol. Assess again."


@pytest.mark.parametrize("name", sorted(set(FACT_NAMES) - {"age_years", "team_reviewed",
                                                          "levels_planned"}))  # fmt: skip
def test_no_fact_changes_unseen(name):
    then = plain_case(TODAY)

    reasons = _of_facts(then, replace(then, **{name: None}))

    assert len(reasons) == 1
    assert fact_info(name).words in reasons[0]
