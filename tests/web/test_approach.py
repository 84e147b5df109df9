"""The page of a planned approach: what is typed, what follows, what is missing, who may."""

from decimal import Decimal

import pytest
from django.test import Client
from django.urls import reverse

from planning.models import PlannedApproach
from planning.services.approach import approach_take_marks
from planning.services.protocols import in_force
from register.domain.approach.marks import Approach
from register.domain.approach.route import Place, Route
from register.domain.protocol import ProtocolValues, Source, SourceKind
from register.history import acting
from register.models import Protocol, StockItem
from register.services.receipts import form_token
from tests.factories import (
    TODAY,
    make_decision,
    make_fracture,
    make_measurement,
    make_patient,
    make_plan,
    make_reading,
    make_referral,
    make_site,
    make_technique,
    make_user,
)
from tests.web.people import People, make_people
from tests.web.real_pages import BACKEND

D = Decimal
TYPED = {
    "medial_angle_deg": "20.0", "cranial_angle_deg": "-5.0", "depth_mm": "52.0",
    "pedicle_width_mm": "7.2", "device_mm": "4.0", "entry_lateral_mm": "24.0",
    "entry_behind_mm": "25.0", "entry_above_mm": "5.0", "wall_lateral_mm": "11.0",
    "wall_behind_mm": "5.0",
}  # fmt: skip


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def level(people):
    """L1 in a draft plan for both sides, measured 34 mm deep, its pedicles read on a scan."""
    with acting("test"):
        fracture = make_fracture(make_referral(make_patient(people.site)))
        reading = make_reading(
            fracture, people.users["consultant"], pedicle_width_left_mm=D("7.1"),
            pedicle_width_right_mm=D("6.4"),
        )  # fmt: skip
        make_measurement(reading, depth_mm=D("34.0"), width_mm=D("44.0"))
        decision = make_decision(fracture, people.users["consultant"])
        return make_plan(decision, make_technique(people.site)).levels.get()


@pytest.fixture
def consultant(people):
    return people.client("consultant")


def address(level):
    return reverse("planned-approach", args=[level.pk])


def send(client, level, side="left", **changed):
    row = PlannedApproach.objects.live().filter(level=level, side=side).first()
    key = {f"{side}-version": row.version} if row else {f"{side}-token": form_token()}
    return client.post(
        address(level),
        {"side": side}
        | key
        | {f"{side}-{name}": value for name, value in (TYPED | changed).items()},
    )


def approve(people, level, state="approved", by="consultant"):
    with acting("test"):
        plan = level.plan
        plan.state, plan.approved_by = state, people.users.get(by)
        plan.approved_at = plan.created_at if by else None
        plan.save()


def results(page, side):
    view = page.context["view"]
    lines = next(part.lines for part in view.sides if part.side == side)
    return {line.label: line for line in lines}


def test_an_empty_page_says_what_is_needed_and_offers_the_widths_that_were_read(consultant, level):
    page = consultant.get(address(level))
    assert page.status_code == 200
    assert "No needle can be drawn yet" in page.text
    assert results(page, "left")["Tip from the midline"].value == (
        "needs the medial angle, the angle to the head, the depth and the entry from the midline"
    )
    forms = page.context["side_forms"]
    assert forms["left"]["pedicle_width_mm"].value() == D("7.1")
    assert forms["right"]["pedicle_width_mm"].value() == D("6.4")
    assert PlannedApproach.objects.count() == 0


def test_what_is_typed_is_kept_drawn_and_computed(consultant, level):
    assert send(consultant, level).status_code == 302
    page = consultant.get(address(level))
    told = {label: line.value for label, line in results(page, "left").items()}
    assert told["Medial angle"] == "20.0°"
    assert told["Device to the inner wall of the pedicle"] == "3.4 mm"
    assert told["Device to the outer wall, by the width"] == "-0.2 mm"
    assert told["Tip from the midline"] == "6.3 mm"
    assert told["Tip from the anterior wall"] == "10.3 mm"
    assert told["Share of the body’s depth reached"] == "69.7 %"
    assert page.text.count("Planning aid, not guidance; </tspan>") == 2
    assert results(page, "right")["Medial angle"].is_known is False
    stored = PlannedApproach.objects.get()
    assert (stored.side, stored.from_marks, stored.depth_mm) == ("left", False, D("52.0"))


def test_both_tips_are_compared_once_both_sides_are_known(consultant, level):
    send(consultant, level)
    page = consultant.get(address(level))
    assert [line.is_known for line in page.context["view"].balance] == [False, False]
    send(consultant, level, "right", entry_above_mm="7.5")
    lines = consultant.get(address(level)).context["view"].balance
    assert [line.value for line in lines] == ["2.5 mm", "0.0 mm"]


def test_tolerances_are_empty_until_entered_and_then_common_practice(people, consultant, level):
    send(consultant, level)
    line = results(consultant.get(address(level)), "left")["Tip from the midline"]
    assert line.state == ("no tolerance entered", "open", "")

    own = Source("ours", "Local protocol 7", SourceKind.COMMON_PRACTICE, TODAY)
    current = in_force(people.site, TODAY)
    values = current.values.with_value(
        "approach.tip_to_midline_mm", D("5.0"), source=own, since=TODAY
    )
    with acting("test"):
        Protocol.objects.filter(pk=current.protocol.pk).update(values=values.as_json())
    line = results(consultant.get(address(level)), "left")["Tip from the midline"]
    assert line.state == ("outside the tolerance, at most 5.0 mm", "triangle", "attention")
    assert "common practice, no source: confirm locally" in line.note


def test_a_protocol_stored_before_there_were_tolerances_still_opens_the_page(
    people, consultant, level
):
    current = in_force(people.site, TODAY)
    older = ProtocolValues(
        current.values.day,
        tuple(v for v in current.values.values if not v.id.startswith("approach.")),
        current.values.timepoints,
    )
    with acting("test"):
        Protocol.objects.filter(pk=current.protocol.pk).update(values=older.as_json())
    page = consultant.get(address(level))
    assert (
        "The protocol in force has no clearance" in page.text or "catalogue holds no" in page.text
    )


def test_sizes_of_the_catalogue_are_compared_once_each(people, consultant, level):
    with acting("test"):
        for lot in ("A1", "A2"):
            StockItem.objects.create(
                site=people.site, kind="implant", name="Expandable implant", size_label="5.8 mm",
                lot=lot, diameter_mm=D("5.8"), length_mm=D("25.0"),
            )  # fmt: skip
        StockItem.objects.create(
            site=people.site, kind="implant", name="Expandable implant", size_label="4.2 mm",
            diameter_mm=D("4.2"), length_mm=D("25.0"), needs_isthmus_mm=D("8.0"),
        )  # fmt: skip
    send(consultant, level)
    send(consultant, level, "right", pedicle_width_mm="6.9")
    page = consultant.get(address(level))
    told = {fit.size.name: fit for fit in page.context["view"].fits}
    assert {name: fit.fits for name, fit in told.items()} == {
        "Expandable implant 4.2 mm": False,
        "Expandable implant 5.8 mm": True,
    }
    assert "isthmus 6.9 mm (right, the narrower of those entered)" in page.text
    assert "from the supplier&#x27;s table" in page.text


def test_a_side_without_a_number_and_an_impossible_number_keep_what_was_typed(consultant, level):
    answer = send(consultant, level, **dict.fromkeys(TYPED, ""))
    assert answer.status_code == 422
    assert "Enter at least one number of this side" in answer.text
    answer = send(consultant, level, medial_angle_deg="80", depth_mm="51,5")
    assert answer.status_code == 422
    assert "Medial angle must be from -40 to 60 degrees" in answer.text
    assert "write a point instead of the comma" in answer.text
    assert 'value="51,5"' in answer.text
    assert PlannedApproach.objects.count() == 0


def test_of_two_people_the_second_sees_what_the_first_saved(people, consultant, level):
    send(consultant, level)
    row = PlannedApproach.objects.get()
    sent = {f"left-{name}": value for name, value in TYPED.items()}
    first = {"side": "left", "left-version": row.version} | sent | {"left-depth_mm": "50.0"}
    second = {"side": "left", "left-version": row.version} | sent | {"left-depth_mm": "55.0"}
    assert consultant.post(address(level), first).status_code == 302
    answer = people.client("nurse").post(address(level), second)
    assert answer.status_code == 422
    assert "You typed" in answer.text
    row.refresh_from_db()
    assert row.depth_mm == D("50.0")


def test_an_approved_plan_is_read_only(people, consultant, level):
    send(consultant, level)
    approve(people, level)
    page = consultant.get(address(level))
    assert "Save the left side" not in page.text
    answer = send(consultant, level, depth_mm="40.0")
    assert answer.status_code == 422
    assert "The plan is approved and cannot be changed" in answer.text
    assert PlannedApproach.objects.get().depth_mm == D("52.0")


def test_a_needle_has_a_history_and_can_be_set_aside_while_the_plan_is_a_draft(
    people, consultant, level
):
    send(consultant, level)
    row = PlannedApproach.objects.get()
    told = consultant.get(reverse("record-history", args=["planned-approach", row.pk])).text
    assert "Left needle of L1" in told
    assert "52.0 mm" in told
    aside = reverse("record-aside", args=["planned-approach", row.pk])
    approve(people, level)
    answer = consultant.post(aside, {"version": row.version, "reason": "Wrong level"})
    assert "Take the approval back first" in answer.text
    row.refresh_from_db()
    assert row.voided_at is None
    approve(people, level, state="draft", by=None)
    consultant.post(aside, {"version": row.version, "reason": "Wrong level"})
    row.refresh_from_db()
    assert row.voided_at is not None
    assert "Nothing entered yet" in consultant.get(address(level)).text
    assert send(consultant, level).status_code == 302, "it can be entered anew"


def test_marks_replace_what_was_typed_and_typing_says_that_it_was_typed(people, consultant, level):
    send(consultant, level)
    marked = Route("left", 18.44, -3.0, 49.96, Place(22, 24, 4), Place(11, 5), 7.5)
    with acting("test"):
        saved = approach_take_marks(
            level=level, measured=Approach(marked, Route("right"), {}),
            user=people.users["consultant"],
        )  # fmt: skip
    row = PlannedApproach.objects.get()
    assert [one.pk for one in saved] == [row.pk]
    assert (row.from_marks, row.medial_angle_deg, row.depth_mm) == (True, D("18.4"), D("50.0"))
    assert row.device_mm == D("4.0"), "the marks do not know the device"
    assert "Measured on the image" in consultant.get(address(level)).text
    send(consultant, level, depth_mm="48.0")
    row.refresh_from_db()
    assert row.from_marks is False


def test_the_prompt_of_the_one_sided_study_speaks_where_it_applies(consultant, level):
    assert "less likely to cross the midline" not in consultant.get(address(level)).text
    with acting("test"):
        level.side = "left"
        level.save()
    page = consultant.get(address(level)).text
    assert "less likely to cross the midline" in page
    assert "Not in the plan, which says: left" in page
    plan = consultant.get(reverse("plan", args=[level.plan_id])).text
    assert "less likely to cross the midline" in plan


def test_another_site_is_not_found(people, level):
    with acting("test"):
        stranger = make_user(make_site(name="Ashdown Royal Infirmary"), "consultant")
    client = Client()
    client.force_login(stranger, backend=BACKEND)
    assert client.get(address(level)).status_code == 404
