"""The nurse's round by keyboard alone: from the due list to a saved contact and back."""

from datetime import timedelta

import pytest
from django.utils.timezone import localdate
from playwright.sync_api import expect

from register.history import acting
from register.models import Score
from tests.browser.hands import Keyboard, told
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_review,
    make_site,
    make_technique,
    make_user,
)

TODAY = localdate()


@pytest.fixture
def nurse(transactional_db):
    """A nurse with one contact that is due and one that is not yet."""
    with acting("test"):
        nurse = make_user(make_site(), "nurse")
        for name, day in (("Arden", 90), ("Birkshaw", 10)):
            done_on = TODAY - timedelta(days=day)
            referral = make_referral(make_patient(nurse.site, family_name=name))
            procedure = make_procedure(
                make_fracture(referral, state="treated"),
                make_technique(nurse.site),
                nurse,
                performed_on=done_on,
            )
            make_review(
                procedure,
                timepoint="months_3",
                opens_on=done_on + timedelta(days=70),
                target_on=done_on + timedelta(days=91),
                closes_on=done_on + timedelta(days=126),
            )
    return nurse


def test_a_due_contact_is_entered_and_leaves_the_list(signed_in, nurse, picture):
    page = signed_in(nurse)
    page.goto("/")
    expect(page.get_by_role("row", name="ARDEN, Maud")).to_contain_text("due")
    expect(page.get_by_text("BIRKSHAW")).to_be_hidden()
    picture(page, "nurse-1-due")
    hands = Keyboard(page)
    hands.enter(page.get_by_role("link", name="Enter the scores of ARDEN, Maud"))
    expect(page.get_by_label("How (needed)")).to_be_focused()

    # telephone, the patient, nine scores of which the falls are unlikely, no warning sign, save
    for key in "2>1>3>5>4>12>1>3>0>45>1>0>>":
        hands.press({">": "Enter"}.get(key, key))
    question = page.get_by_role("link", name="Falls")
    expect(question).to_have_count(1)
    expect(page.get_by_role("textbox", name="Pain now")).to_have_value("3")
    assert not Score.objects.exists()
    picture(page, "nurse-2-question")
    hands.go(page.get_by_label("Why it is right").locator("visible=true"))
    hands.type("counted by the home")
    hands.enter(page.get_by_role("button", name="Save contact"))
    told(page, "ARDEN, Maud: contact")
    falls = Score.objects.get(instrument="falls")
    assert (falls.value, falls.unlikely_reason) == (45, "counted by the home")
    expect(page.get_by_role("row", name="ARDEN, Maud")).to_have_count(0)
    expect(page.get_by_text("Nobody is due.")).to_be_visible()
