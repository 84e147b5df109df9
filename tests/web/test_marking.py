"""Marks on a picture: saved by the page, measured, changed, read a second time."""

import json
from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from register.history import acting
from register.models import Fracture, ImageFrame, Marking, Measurement, Reading, Study
from tests.clock import stop_clock
from tests.factories import TODAY, make_fracture, make_patient, make_referral
from tests.pictures import SPACING, column, confirm_numbering, make_series
from tests.web.people import People, make_people


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def client(people):
    return people.client("consultant")


@pytest.fixture
def fracture(people) -> Fracture:
    with acting("test"):
        return make_fracture(make_referral(make_patient(people.site)), level="L1")


@pytest.fixture
def study(people, fracture) -> Study:
    with acting("test"):
        made = Study.objects.create(
            patient=fracture.patient, modality="ct", performed_on=TODAY, posture="supine"
        )
        confirm_numbering(made, people.users["nurse"])
    return made


@pytest.fixture
def frame(study) -> ImageFrame:
    with acting("test"):
        return make_series(study).frames.get()


@pytest.fixture
def address(frame) -> str:
    return reverse("marking-new", args=[frame.pk, "L1", "lateral"])


def typed(marks: object = None, **more: str) -> dict[str, str]:
    given = column().marks(SPACING) if marks is None else marks
    text = given if isinstance(given, str) else json.dumps(given)
    return {"marks": text} | {"posture": "supine"} | more


def measured(level: str) -> Measurement:
    return Measurement.objects.live().get(reading__level=level)


def test_marks_become_the_numbers_of_the_record(client, address, fracture):
    answer = client.post(address, typed())
    reading = Reading.objects.get(level="L1")
    assert answer.url == reverse("reading-edit", args=[reading.pk])
    assert reading.fracture == fracture
    own = measured("L1")
    assert own.anterior_height_mm == Decimal("16.0")
    assert own.middle_height_mm == Decimal("18.0")
    assert own.posterior_height_mm == Decimal("26.0")
    assert own.depth_mm == pytest.approx(Decimal("34.4"), abs=Decimal("0.1"))
    assert (own.method, own.posture, own.calibration) == ("marked", "supine", "calibrated")
    assert "upper T12 to lower L1" in own.angle_end_plates
    assert Decimal(own.plus_minus["anterior_height_mm"]) > 0
    assert set(own.outline) == set(column().levels["L1"])
    beside = measured("T12")
    assert beside.anterior_height_mm == Decimal("25.0")
    assert beside.marking == own.marking
    assert beside.reading.observer == own.observer


def test_the_level_page_shows_what_was_marked_and_leads_back(client, address):
    client.post(address, typed())
    marking = Marking.objects.get()
    page = client.get(reverse("reading-edit", args=[marking.reading_id])).content.decode()
    assert reverse("marking-edit", args=[marking.pk]) in page
    assert "calibrated pixel spacing" in page


@pytest.mark.parametrize(
    ("marks", "words"),
    [
        ({}, "Mark at least one point"),
        ("no JSON", "could not be read"),
        ('{"L1": NaN}', "could not be read"),
        ({"L9": {"upper_anterior": [1, 2]}}, "is not a spinal level"),
        ({"L1": {"wall_left": [1, 2]}}, "is not a mark of the lateral view"),
        ({"L1": {"upper_anterior": [1, 9000]}}, "outside the picture"),
        ({"L1": {"upper_anterior": ["1", "2"]}}, "is not a number"),
        ({"L1": {"upper_anterior": [True, 2]}}, "is not a number"),
        ([1, 2], "could not be read"),
    ],
)
def test_impossible_marks_are_refused_in_words_and_change_nothing(client, address, marks, words):
    answer = client.post(address, typed(marks))
    assert answer.status_code == 422
    assert words in answer.content.decode()
    assert not Marking.objects.exists()
    assert not Measurement.objects.exists()


def test_marks_that_contradict_themselves_are_refused(client, address):
    marks = column().marks(SPACING)
    marks["T12"], marks["L2"] = marks["L2"], marks["T12"]
    answer = client.post(address, typed(marks))
    assert answer.status_code == 422
    assert "Compare the names of the levels" in answer.content.decode()
    assert not Marking.objects.exists()


def test_nothing_is_marked_before_the_numbering_is_confirmed(client, study, frame, address):
    with acting("test"):
        study.numbering_confirmed_by = study.numbering_confirmed_at = None
        study.save()
    numbering = reverse("study-numbering", args=[study.pk])
    assert client.get(address).url == numbering
    assert client.post(address, typed()).url == numbering
    start = reverse("mark-start", args=[frame.series_id])
    assert client.get(start).url == numbering
    assert not Marking.objects.exists()


def test_changed_marks_change_the_numbers_and_the_history_says_why(client, address):
    client.post(address, typed())
    marking = Marking.objects.get()
    marks = column().marks(SPACING)
    marks["L1"]["upper_anterior"][1] -= 2  # rows of 0.5 mm
    del marks["L2"]
    edit = reverse("marking-edit", args=[marking.pk])
    answer = client.post(edit, typed(marks, version=str(marking.version), why="Corner missed"))
    assert answer.status_code == 302
    assert measured("L1").anterior_height_mm == Decimal("17.0")
    assert not Measurement.objects.live().filter(reading__level="L2").exists()
    assert Measurement.objects.get(reading__level="L2").void_reason
    history = client.get(reverse("record-history", args=["marking", marking.pk]))
    assert "corner missed" in history.content.decode()


def test_of_two_who_change_marks_the_later_one_is_told(client, address):
    client.post(address, typed())
    marking = Marking.objects.get()
    edit = reverse("marking-edit", args=[marking.pk])
    marks = column().marks(SPACING)
    marks["L1"]["upper_anterior"][1] -= 2
    client.post(edit, typed(marks, version=str(marking.version)))
    marks["L1"]["upper_anterior"][1] += 6
    late = client.post(edit, typed(marks, version=str(marking.version)))
    assert late.status_code == 422
    assert measured("L1").anterior_height_mm == Decimal("17.0")


def test_a_picture_without_scale_gives_angles_and_no_millimetres(client, frame, address):
    with acting("test"):
        frame.basis, frame.row_mm, frame.column_mm = "none", None, None
        frame.save()
    client.post(address, typed())
    own = measured("L1")
    assert own.anterior_height_mm is None
    assert own.outline is None
    assert own.calibration == "none"
    assert own.vertebral_angle_deg is not None
    assert own.plus_minus == {}
    page = client.get(reverse("reading-edit", args=[own.reading_id])).content.decode()
    assert "Anterior over posterior height: 62 %." in page  # 16 of 26
    assert "Height lost at the front: 36 % (wedge, grade 2), compared with T12 and L2." in page


def test_a_known_length_gives_the_scale(client, frame, address):
    with acting("test"):
        frame.basis, frame.row_mm, frame.column_mm = "none", None, None
        frame.save()
    marks = column().marks(SPACING)
    known = {"start": [10.0, 10.0], "end": [110.0, 10.0], "mm": "40"}  # columns of 0.4 mm
    client.post(address, typed(marks | {"known": known}))
    own = measured("L1")
    assert own.calibration == "known_length"
    assert own.anterior_height_mm == Decimal("16.0")


def test_a_second_reading_is_made_unseen_by_another_observer(people, client, address):
    client.post(address, typed())
    first = Marking.objects.get()
    again = reverse("marking-again", args=[first.pk])
    nurse = people.client("nurse")
    page = nurse.get(again).content.decode()
    assert "are not shown" in page
    assert f"{column().marks(SPACING)['L1']['upper_anterior'][0]}" not in page
    nurse.post(again, typed())
    second = Marking.objects.exclude(pk=first.pk).get()
    assert second.repeats == first
    assert second.reading != first.reading
    assert second.observer == people.users["nurse"]


def test_the_same_observer_reads_again_on_another_day(people, client, address, monkeypatch):
    client.post(address, typed())
    first = Marking.objects.get()
    again = reverse("marking-again", args=[first.pk])
    same_day = client.post(again, typed())
    assert same_day.status_code == 422
    assert "Read it again on another day" in same_day.content.decode()
    stop_clock(monkeypatch, TODAY + timedelta(days=1))
    assert people.client("consultant").post(again, typed()).status_code == 302
    assert Marking.objects.get(repeats=first).reading.read_on == TODAY + timedelta(days=1)


def test_marks_in_an_older_reading_are_not_read_again_on_the_day_they_were_set(
    people, client, study, address
):
    with acting("test"):
        Reading.objects.create(
            study=study, level="L1", observer=people.users["consultant"],
            read_on=TODAY - timedelta(days=2),
        )  # fmt: skip
    client.post(address, typed())
    first = Marking.objects.get()
    assert first.reading.read_on < first.marked_on
    told = client.get(reverse("marking-again", args=[first.pk]), follow=True)
    assert "Read it again on another day" in told.content.decode()  # before the work, not after
    again = client.post(reverse("marking-again", args=[first.pk]), typed())
    assert again.status_code == 422
    assert Marking.objects.count() == 1


def test_a_slice_gives_findings_of_the_reading(client, frame):
    from tests.phantoms import AxialSlice, axial

    cut = axial(AxialSlice("L1")).centred(rows=300, columns=260, spacing=SPACING)
    address = reverse("marking-new", args=[frame.pk, "L1", "axial"])
    answer = client.post(address, typed(cut.marks(SPACING)))
    assert answer.status_code == 302
    reading = Reading.objects.get()
    assert reading.pedicle_width_left_mm is not None
    assert reading.canal_percent is not None
    assert not Measurement.objects.exists()


def test_a_film_from_the_front_adds_both_sides_to_the_same_measurement(client, frame, address):
    from tests.phantoms import FrontalBody, frontal

    client.post(address, typed())
    film = frontal(FrontalBody("L1")).centred(rows=300, columns=260, spacing=SPACING)
    front = reverse("marking-new", args=[frame.pk, "L1", "frontal"])
    assert client.post(front, typed(film.marks(SPACING))).status_code == 302
    own = measured("L1")
    assert own.anterior_height_mm == Decimal("16.0")
    assert own.left_height_mm is not None
    assert {"anterior_height_mm", "left_height_mm"} <= set(own.plus_minus)
    other = client.post(
        reverse("marking-edit", args=[Marking.objects.get(view="frontal").pk]),
        typed(film.marks(SPACING), posture="standing", version="1"),
    )
    assert other.status_code == 422
    assert "another posture" in other.content.decode()


def test_one_s_own_marks_are_opened_again(client, address):
    client.post(address, typed())
    assert client.get(address).url == reverse("marking-edit", args=[Marking.objects.get().pk])


def test_the_posture_that_was_saved_is_offered_again(client, address):
    client.post(address, typed(posture="standing"))
    marking = Marking.objects.get()
    page = client.get(reverse("marking-edit", args=[marking.pk]))
    assert page.context["form"]["posture"].value() == "standing"


@pytest.mark.parametrize(
    ("view", "levels"),
    [("lateral", ["T12", "L1", "L2"]), ("axial", ["L1"]), ("needles", ["L1"])],
)
def test_neighbours_are_offered_where_they_are_seen(client, frame, view, levels):
    page = client.get(reverse("marking-new", args=[frame.pk, "L1", view]))
    assert page.context["viewer"]["levels"] == levels


def test_start_leads_to_the_chosen_picture(client, frame):
    start = reverse("mark-start", args=[frame.series_id])
    assert client.get(start).status_code == 200
    chosen = {"level": "T12", "view": "lateral", "picture": str(frame.pk)}
    target = client.get(start, chosen).url
    assert target == reverse("marking-new", args=[frame.pk, "T12", "lateral"])
    wrong = client.get(start, chosen | {"level": "X1"})
    assert wrong.status_code in (200, 422)
