"""The sign-in page tells nobody which accounts exist, and guessing locks no colleague out."""

import pytest

from register.drills import accounts, guessing
from register.drills._sign_in import PASSPHRASE, make_person, make_site, sign_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def said() -> list[str]:
    return []


def test_the_page_is_the_same_for_an_account_that_exists_and_one_that_does_not(said):
    # The time is measured by `manage.py drill accounts`, with the slow hash of a real site.
    assert accounts.run(runs=3, seed=1, say=said.append, most_difference=10.0)
    assert "different pages 0" in said[-1]


def test_guessing_stops_at_the_limit_and_locks_no_colleague_out(said):
    assert guessing.run(runs=12, seed=1, say=said.append)
    assert said[0] == "12 guesses, 5 compared with the passphrase, gain from the header 0"


def test_another_spelling_of_a_name_is_not_worth_another_try(said):
    assert guessing.run(runs=5, seed=1, say=said.append)
    for name in ("DRILL-VICTIM", " Drill-Victim"):
        assert sign_in(name, PASSPHRASE, guessing.SHARED).status == 429


def test_behind_a_proxy_only_the_header_it_writes_itself_names_the_address(said, settings):
    assert guessing.run(runs=5, seed=1, say=said.append)
    settings.ADDRESS_HEADER = "X-Real-IP"
    elsewhere = {"X-Real-IP": "10.9.9.9"}
    assert sign_in("drill-victim", PASSPHRASE, guessing.SHARED, **elsewhere).is_in
    for forged in ({"X-Forwarded-For": "10.9.9.9"}, {"X-Real-IP": "10.9.9.9, 10.9.9.8"}):
        assert sign_in("drill-victim", PASSPHRASE, guessing.SHARED, **forged).status == 429


def test_the_drill_sees_a_limit_that_does_not_hold(said, settings):
    settings.AXES_LOCKOUT_PARAMETERS = ["user_agent"]
    settings.AXES_FAILURE_LIMIT = 5
    settings.AXES_LOCK_OUT_AT_FAILURE = False
    assert not guessing.run(runs=12, seed=1, say=said.append)


def test_a_closed_account_is_told_only_to_whoever_knows_the_passphrase(db):
    make_person("closed", make_site(), is_active=False)
    assert sign_in("closed", "not this one", "10.0.0.9").status == 200
    assert sign_in("closed", PASSPHRASE, "10.0.0.9").status == 302  # to the page that says so
