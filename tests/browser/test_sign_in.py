"""Signing in and out as a person meets it: the brake on guessing, and Back afterwards."""

import pytest
from django.urls import reverse
from playwright.sync_api import expect

from register.history import acting
from tests.browser.hands import press, sign_in
from tests.factories import make_fracture, make_patient, make_referral, make_site, make_user


@pytest.fixture
def site(transactional_db):
    with acting("test"):
        site = make_site()
        make_user(site, "nurse", username="adaeze")
        make_user(site, "nurse", username="tobias")
        make_fracture(make_referral(make_patient(site, family_name="Arden")))
    return site


def test_guessing_is_stopped_for_one_name_and_not_for_a_colleague(watch, site, picture):
    watch.allowed.append("the server responded with a status of 429")
    page = watch.open(None)
    for _ in range(4):
        sign_in(page, "adaeze", "not this one")
        expect(page.get_by_role("alert")).to_contain_text("You are not signed in")
    sign_in(page, "adaeze", "not this one")
    expect(page.get_by_role("heading", name="Too many tries")).to_be_visible()
    sign_in(page, "adaeze")  # the right passphrase comes too late
    expect(page.get_by_role("heading", name="Too many tries")).to_be_visible()
    picture(page, "sign-in-too-many")
    sign_in(page, "tobias")
    expect(page.get_by_role("heading", name="Follow-up due")).to_be_visible()


def test_back_after_signing_out_shows_no_patient(watch, site):
    page = watch.open(None)
    sign_in(page, "tobias")
    page.goto(reverse("waiting"))
    page.get_by_role("link", name="ARDEN, Maud").click()
    expect(page.get_by_role("region", name="Patient")).to_contain_text("ARDEN, Maud")
    press(page, "Sign out")
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    page.go_back()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    assert "ARDEN" not in page.content()
