"""Needles marked on the images of a study become the numbers of the plan."""

import json
from decimal import Decimal

import pytest
from django.urls import reverse

from planning.models import PlannedApproach
from register.history import acting
from register.models import Marking, Measurement, Study
from tests.factories import (
    TODAY,
    make_decision,
    make_fracture,
    make_patient,
    make_plan,
    make_referral,
    make_technique,
)
from tests.phantoms import AxialSlice, LateralBody, axial, lateral
from tests.pictures import COLUMNS, ROWS, SPACING, confirm_numbering, make_series
from tests.web.people import People, make_people

# On the phantom's slice, in mm from the middle of the back wall: 50 mm forward, 20 mm inwards.
ACROSS = {"entry_left": (25.0, 25.0), "target_left": (5.0, -25.0)}
# From the side: 50 mm forward and 5 mm towards the head.
ALONG = {"entry_left": (42.0, 0.0), "target_left": (-8.0, -5.0)}


@pytest.fixture
def people(db) -> People:
    with acting("test"):
        return make_people()


@pytest.fixture
def client(people):
    return people.client("consultant")


@pytest.fixture
def level(people):
    with acting("test"):
        fracture = make_fracture(make_referral(make_patient(people.site)), level="L1")
        decision = make_decision(fracture, people.users["consultant"])
        return make_plan(decision, make_technique(people.site)).levels.get()


@pytest.fixture
def frame(people, level):
    with acting("test"):
        study = Study.objects.create(
            patient=level.plan.patient, modality="ct", performed_on=TODAY, posture="supine"
        )
        confirm_numbering(study, people.users["consultant"])
        return make_series(study).frames.get()


def marks(phantom, needles: dict[str, tuple[float, float]]) -> str:
    """The phantom's marks with needles that lie in its own frame, as pixels of the picture."""
    body = phantom.levels["L1"]
    origin = (
        tuple((a + b) / 2 for a, b in zip(body["wall_left"], body["wall_right"], strict=True))
        if "wall_left" in body
        else (
            body["upper_posterior"][0] - 17,
            (body["upper_posterior"][1] + body["lower_posterior"][1]) / 2,
        )
    )
    placed = {name: (origin[0] + x, origin[1] + y) for name, (x, y) in needles.items()}
    shown = {name: p for name, p in body.items() if not name.endswith("_middle")} | placed
    pixels = {name: [x / SPACING[1], y / SPACING[0]] for name, (x, y) in shown.items()}
    return json.dumps({"L1": pixels})


def mark(client, frame, view: str, phantom, needles) -> None:
    centred = phantom.centred(rows=ROWS, columns=COLUMNS, spacing=SPACING)
    address = reverse("marking-new", args=[frame.pk, "L1", view])
    answer = client.post(address, {"marks": marks(centred, needles), "posture": "supine"})
    assert answer.status_code == 302


def test_marked_needles_are_taken_into_the_plan(client, level, frame):
    mark(client, frame, "axial", axial(AxialSlice("L1")), ACROSS)
    mark(client, frame, "needles", lateral(LateralBody("L1")), ALONG)
    page = reverse("planned-approach", args=[level.pk])
    assert "Take the needles from these marks" in client.get(page).content.decode()
    answer = client.post(reverse("approach-take", args=[level.pk]), follow=True)
    text = answer.content.decode()
    assert "Left needle taken." in text
    assert "both views differ by 0.0 mm" in text
    left = PlannedApproach.objects.get(side="left")
    assert left.from_marks
    assert left.medial_angle_deg == Decimal("21.8")  # atan(20 / 50)
    assert left.cranial_angle_deg == Decimal("5.7")  # atan(5 / 50)
    assert left.depth_mm == Decimal("54.1")  # √(50² + 20² + 5²)
    assert left.pedicle_width_mm == Decimal("8.0")
    right = PlannedApproach.objects.get(side="right")
    assert (right.depth_mm, right.pedicle_width_mm) == (None, Decimal("8.0"))


def test_needles_measure_no_body(client, level, frame):
    mark(client, frame, "needles", lateral(LateralBody("L1")), ALONG)
    assert not Measurement.objects.exists()
    assert Marking.objects.get().view == "needles"


def test_without_marks_nothing_is_taken_and_the_page_says_so(client, level):
    page = client.get(reverse("planned-approach", args=[level.pk])).content.decode()
    assert "No needle is marked at L1" in page
    answer = client.post(reverse("approach-take", args=[level.pk]), follow=True)
    assert "No needle is marked on the images" in answer.content.decode()
    assert not PlannedApproach.objects.exists()


def test_an_approved_plan_takes_no_marks(client, level, frame):
    mark(client, frame, "axial", axial(AxialSlice("L1")), ACROSS)
    with acting("test"):
        level.plan.state = "approved"
        level.plan.approved_by = level.decision.made_by
        level.plan.approved_at = frame.created_at
        level.plan.save()
    client.post(reverse("approach-take", args=[level.pk]))
    assert not PlannedApproach.objects.exists()


def test_a_needle_that_goes_backwards_is_refused_in_words(client, level, frame):
    swapped = {"entry_left": ACROSS["target_left"], "target_left": ACROSS["entry_left"]}
    mark(client, frame, "axial", axial(AxialSlice("L1")), swapped)
    answer = client.post(reverse("approach-take", args=[level.pk]), follow=True)
    assert "in front of" in answer.content.decode()
    assert not PlannedApproach.objects.exists()
