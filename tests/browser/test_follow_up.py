"""Entering a contact in a real browser: by keyboard, with warning signs, after signing out."""

import os
import time
from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.urls import reverse
from django.utils.timezone import localdate
from playwright.sync_api import expect

from register.domain.protocol import shipped
from register.history import acting
from register.models import Draft, Review, Score
from register.services.outcomes import reviews_schedule
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_site,
    make_technique,
    make_user,
)

TODAY = localdate()
WIDEST = """[...document.querySelectorAll("main *")]
  .filter((one) => one.getBoundingClientRect().right > innerWidth)
  .map((one) => one.tagName + "." + one.className).join(" ")"""


@pytest.fixture
def nurse(transactional_db):
    with acting("test"):
        return make_user(make_site(), "nurse")


@pytest.fixture
def contact(nurse):
    """The contact after 3 months, which asks the whole core set."""
    with acting("test"):
        patient = make_patient(nurse.site, family_name="Arden")
        fracture = make_fracture(make_referral(patient, onset_on=None, onset_precision=""))
        procedure = make_procedure(
            fracture, make_technique(nurse.site), nurse, performed_on=TODAY - timedelta(days=90)
        )
    reviews = reviews_schedule(
        patient=patient,
        anchor_on=procedure.performed_on,
        procedure=procedure,
        protocol_values=shipped(TODAY),
        user=nurse,
    )
    return next(review for review in reviews if review.timepoint == "months_3")


def open_contact(signed_in, nurse, contact):
    page = signed_in(nurse)
    page.goto(reverse("review", args=[contact.pk]))
    return page


def press(page, keys):
    """Press each key once: digits as they are, `>` for Enter, `|` for Tab."""
    for key in keys:
        page.keyboard.press({">": "Enter", "|": "Tab"}.get(key, key))


def kept(how_often=300):
    """Wait until the typing has reached the server."""
    for _ in range(how_often):
        if Draft.objects.exists():
            return
        time.sleep(0.1)
    raise AssertionError("The typing was not kept.")


def pain_now(page):
    return page.get_by_role("textbox", name="Pain now")


def scores(contact):
    return {
        score.instrument: score.absent.get("value") if score.value is None else int(score.value)
        for score in Score.objects.filter(review=contact)
    }


def test_the_core_set_takes_under_30_keys_and_30_seconds(signed_in, nurse, contact):
    page = open_contact(signed_in, nurse, contact)
    # telephone, the patient, nine scores, warning signs asked and none, save
    keys = "2>1>" + "3>" + "5>" + "4>" + "12>" + "1>" + "3>" + "0>" + "0>" + "1>" + "0>" + ">"
    started = time.monotonic()
    press(page, keys)
    expect(page.get_by_role("status")).to_contain_text("ARDEN, Maud: contact at 3 months")
    seconds = time.monotonic() - started
    print(f"core set: {len(keys)} keys, {seconds:.1f} s by script")
    assert len(keys) < 30
    if os.getloadavg()[0] < 2 * (os.cpu_count() or 1):  # else the machine is measured
        assert seconds < 30
    assert scores(contact) == {
        "pain_now": 3,
        "pain_worst": 5,
        "pain_moving": 4,
        "disability_24": 12,
        "analgesic_step": 1,
        "mobility": 3,
        "new_pain": 0,
        "falls": 0,
        "bone_drug": 1,
    }
    contact.refresh_from_db()
    assert (contact.mode, contact.informant, contact.red_flags) == (
        "telephone",
        "patient",
        ["none"],
    )
    assert contact.held_on == TODAY


def test_a_reason_instead_of_a_score_is_two_keys_away(signed_in, nurse, contact):
    page = open_contact(signed_in, nurse, contact)
    press(page, "2>1>" + "3>5>4>" + "|4>" + "1>3>0>0>1>0>" + ">")
    expect(page.get_by_role("status")).to_contain_text("saved")
    assert scores(contact)["disability_24"] == "declined"


def test_a_warning_sign_shows_the_instruction_at_once(signed_in, nurse, contact, picture):
    page = open_contact(signed_in, nurse, contact)
    instruction = page.get_by_text(nurse.site.urgent_instruction)
    expect(instruction).to_be_hidden()
    page.get_by_label("New leg weakness, change of bladder").select_option("some")
    expect(page.get_by_role("alert").filter(has_text=nurse.site.urgent_instruction)).to_be_visible()
    page.get_by_label("new leg weakness", exact=True).check()
    page.get_by_role("button", name="Save contact").click()
    problem = page.get_by_role("link", name="Told whom: name the person")
    expect(problem).to_be_visible()
    picture(page, "follow-up-warning-sign")
    problem.click()
    expect(page.get_by_label("Told whom")).to_be_focused()
    assert not Score.objects.exists()


def test_the_name_of_a_proxy_is_asked_only_then(signed_in, nurse, contact):
    page = open_contact(signed_in, nurse, contact)
    name = page.get_by_label("Name of the relative or carer")
    expect(name).to_be_hidden()
    page.get_by_label("Who answered").select_option("relative")
    expect(name).to_be_visible()
    kept()


def test_everything_can_be_reached_with_tab_alone(signed_in, nurse, contact):
    page = open_contact(signed_in, nurse, contact)
    seen = []
    for _ in range(60):
        name = page.evaluate("document.activeElement.name || document.activeElement.textContent")
        seen.append(name)
        if name.strip() == "Save contact":
            break
        page.keyboard.press("Tab")
    assert seen.index("pain_now") < seen.index("pain_now_absent") < seen.index("pain_worst")
    assert {"held_on_day", "all_absent", "red_flag_check", "note", "Save contact"} <= set(seen)


def test_a_double_press_makes_one_contact_and_back_doubles_nothing(signed_in, nurse, contact):
    page = open_contact(signed_in, nurse, contact)
    press(page, "2>1>3>5>4>12>1>3>0>0>1>0>")
    page.get_by_role("button", name="Save contact").dblclick()
    expect(page.get_by_role("status")).to_contain_text("saved")
    page.go_back()
    page.get_by_role("button", name="Save contact").click()
    expect(page.get_by_role("heading", name="Follow-up due")).to_be_visible()
    assert Review.objects.get(pk=contact.pk).held_on == TODAY
    assert Score.objects.filter(review=contact).count() == 9


def test_typing_survives_an_expired_sign_in(signed_in, nurse, contact):
    page = open_contact(signed_in, nurse, contact)
    press(page, "2>1>3>5>")
    Session.objects.all().delete()
    page.get_by_role("button", name="Save contact").click()
    told = page.get_by_role("alert").filter(has_text="You have been signed out.")
    expect(told).to_be_visible()
    expect(pain_now(page)).to_have_value("3")

    again = signed_in(nurse)  # signing in again, in another tab
    page.context.add_cookies(
        [c for c in again.context.cookies() if c["name"] in ("sessionid", "csrftoken")]
    )
    page.evaluate("window.dispatchEvent(new Event('focus'))")
    expect(told).to_be_hidden()
    page.get_by_role("textbox", name="Pain on movement").focus()
    press(page, "4>12>1>3>0>0>1>0>>")
    expect(page.get_by_role("status")).to_contain_text("saved")
    assert scores(contact)["pain_now"] == 3


def test_a_lost_connection_keeps_the_typing_and_says_so(signed_in, nurse, contact):
    page = open_contact(signed_in, nurse, contact)
    press(page, "2>1>3>5>4>12>1>3>0>0>1>0>")
    page.evaluate("window.really = window.fetch; window.fetch = () => Promise.reject(Error()); 0")
    page.get_by_role("button", name="Save contact").click()
    expect(page.get_by_role("alert").filter(has_text="No connection.")).to_be_visible()
    assert not Score.objects.exists()
    page.evaluate("window.fetch = window.really; 0")
    page.get_by_role("button", name="Save contact").click()
    expect(page.get_by_role("status")).to_contain_text("saved")


def test_unfinished_typing_is_there_when_the_page_is_opened_again(signed_in, nurse, contact):
    page = open_contact(signed_in, nurse, contact)
    press(page, "2>1>7>")
    page.goto(reverse("follow-up-due"))
    kept()
    page.goto(reverse("review", args=[contact.pk]))
    expect(page.get_by_text("Not saved yet.")).to_be_visible()
    expect(pain_now(page)).to_have_value("7")
    page.get_by_role("button", name="Throw it away").click()
    expect(pain_now(page)).to_have_value("")


@pytest.mark.parametrize("width", [390, 1024, 1440])
def test_no_page_is_wider_than_the_screen(signed_in, nurse, contact, picture, width):
    page = signed_in(nurse, width=width)
    for name, address in (
        ("due", reverse("follow-up-due")),
        ("contact", reverse("review", args=[contact.pk])),
        ("try", reverse("attempt-new", args=[contact.pk])),
        ("end", reverse("follow-up-end", args=[contact.patient_id])),
        ("course", reverse("course", args=[contact.patient_id])),
    ):
        page.goto(address)
        wide = page.evaluate("document.documentElement.scrollWidth")
        assert wide <= width, f"{name} is {wide} px wide on {width}: {page.evaluate(WIDEST)}"
        picture(page, f"follow-up-{name}-{width}")
