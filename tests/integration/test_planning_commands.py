"""explain, reassess and lock_ruleset."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils.timezone import localdate

from planning.models import Assessment
from planning.rules import lock
from register.history import acting
from tests.factories import (
    make_fracture,
    make_patient,
    make_reading,
    make_referral,
    make_site,
    make_user,
)

DAY = timedelta(days=1)


@pytest.fixture
def nurse(db):
    with acting("test"):
        return make_user(make_site(), "nurse")


@pytest.fixture
def fracture(nurse):
    today = localdate()
    with acting("test"):
        patient = make_patient(nurse.site, family_name="Arden")
        referral = make_referral(
            patient, referred_on=today - 5 * DAY, onset_on=today - 20 * DAY, neurology=""
        )
        fracture = make_fracture(referral)
        make_reading(fracture, nurse, read_on=today - DAY)
    return fracture


def run(*arguments, **options):
    out, errors = StringIO(), StringIO()
    call_command(*arguments, stdout=out, stderr=errors, **options)
    return out.getvalue() + errors.getvalue()


def test_explain_prints_the_reasoning_and_names_nobody(fracture):
    told = run("explain", fracture.pk)

    for said in (
        f"Fracture {fracture.pk}, L1, on",
        "Cannot be assessed without neurological grade",
        "No neurological deficit: cannot assess",
        "The bone at this level is unhealed: met, speaks for",
        "  - oedema on MRI: band (",
        "  Source: Thoracolumbar classification, neurological grades N0 to N4 and NX",
        "  Rule NEUROLOGY-01@1, due by triage",
        "neurological grade (a neurological examination): N2 nerve root leads to: Urgent",
        "decides nothing",
    ):
        assert said in told, said
    assert "Arden" not in told.title()
    assert not Assessment.objects.exists()


def test_explain_of_an_unknown_fracture_says_where_to_find_the_number(db):
    with pytest.raises(CommandError, match="There is no fracture 404"):
        run("explain", 404)


def test_reassess_does_what_is_needed_once(fracture, nurse):
    assert "One waiting fracture to assess." in run("reassess", username=nurse.username)
    assert "1 of 1 (100%)" not in run("reassess", username=nurse.username)
    assert Assessment.objects.get().made_by == nurse

    with acting("test"):
        fracture.referral.neurology = "N0"
        fracture.referral.save()

    assert "1 of 1 (100%)" in run("reassess", username=nurse.username)
    assert Assessment.objects.count() == 2


def test_a_dry_run_changes_nothing(fracture, nurse):
    assert "One waiting" in run("reassess", username=nurse.username, dry_run=True)
    assert not Assessment.objects.exists()


def test_one_refusal_does_not_lose_the_others(fracture, nurse):
    with acting("test"):
        other = make_fracture(fracture.referral, level="T8", onset_on=localdate() + DAY)

    with pytest.raises(CommandError, match="1 of 2 were refused; the others are saved"):
        run("reassess", username=nurse.username)

    assert Assessment.objects.get().fracture == fracture
    assert not other.assessments.exists()


@pytest.mark.parametrize("role", ["lead", "administrator", ""])
def test_reassess_needs_somebody_who_may_assess(nurse, role):
    with acting("test"):
        user = make_user(nurse.site, role)

    for name in (user.username, "nobody"):
        with pytest.raises(CommandError, match="may not assess"):
            run("reassess", username=name)


def test_the_published_sets_are_as_locked():
    assert "rule sets are as published" in run("lock_ruleset")


def test_a_published_set_is_not_locked_again(tmp_path, monkeypatch):
    with pytest.raises(CommandError, match="published and stays as it is"):
        run("lock_ruleset", "commissioning-1")
    with pytest.raises(CommandError, match="No rule set 'mine'"):
        run("lock_ruleset", "mine")


def test_a_new_set_is_locked_and_then_checked(tmp_path, monkeypatch):
    monkeypatch.setattr(lock, "LOCK_FILE", tmp_path / "locks.json")
    with pytest.raises(CommandError, match="appraisal-1 is not locked"):
        run("lock_ruleset")

    run("lock_ruleset", "appraisal-1")
    run("lock_ruleset", "commissioning-1")

    assert "2 rule sets are as published." in run("lock_ruleset")
