"""Images of a study: sent in, whose they are, looked at, levels counted."""

import io
import json
import zipfile
from html import unescape
from pathlib import Path

import pytest
from django.urls import reverse

from register.drills._walk import two_at_once
from register.history import acting
from register.models import ImageFile, ImageFrame, ImageSeries, Reading, Study, User
from register.selectors.images import frames_of
from register.selectors.images import order_notes as notes_of
from register.services.images import image_store, images_take
from tests.clock import stop_clock
from tests.factories import TODAY, make_patient
from tests.pictures import COLUMNS, ROWS, SPACING, film, make_marking, make_series, sent
from tests.web.people import People, make_people


@pytest.fixture
def people(db, monkeypatch) -> People:
    stop_clock(monkeypatch, TODAY)
    with acting("test"):
        return make_people()


@pytest.fixture
def client(people):
    return people.client("nurse")


@pytest.fixture
def study(people) -> Study:
    with acting("test"):
        patient = make_patient(people.site, family_name="Moor", given_name="Edith")
        return Study.objects.create(
            patient=patient, modality="ct", performed_on=TODAY, posture="supine"
        )


def seen_notes(series: ImageSeries) -> tuple[str, ...]:
    return notes_of(frames_of(series))


def page(study: Study) -> str:
    return reverse("study-images", args=[study.pk])


def own(study: Study, **changes: str) -> bytes:
    """A file that names the patient of the study."""
    patient = study.patient
    says = {
        "PatientName": f"{patient.family_name}^{patient.given_name}",
        "PatientID": patient.hospital_number,
        "PatientBirthDate": f"{patient.date_of_birth:%Y%m%d}",
    }
    return film(**says | changes)


def test_files_are_kept_as_they_came_and_put_into_a_series(client, study):
    content = own(study)
    answer = client.post(page(study), {"pictures": [sent(content)]})
    assert "1 file taken, 1 picture." in answer.content.decode()
    file, frame = ImageFile.objects.get(), ImageFrame.objects.get()
    assert image_store().read(file.sha256) == content
    assert (frame.rows, frame.columns, frame.basis) == (ROWS, COLUMNS, "calibrated")
    assert (frame.row_mm, frame.column_mm) == SPACING
    assert frame.series.differs == []
    again = client.post(page(study), {"pictures": [sent(content)]})
    assert "1 file here already" in again.content.decode()
    assert ImageFrame.objects.count() == 1


def test_a_packed_folder_with_one_bad_file_keeps_the_good_ones_and_lists_it(client, study):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("scan/IM1", own(study, InstanceNumber=1))
        archive.writestr("scan/IM2", own(study, InstanceNumber=2))
        archive.writestr("scan/broken", own(study)[:900])
        archive.writestr("scan/letter.pdf", b"%PDF-1.7 words")
    answer = client.post(page(study), {"pictures": [sent(packed.getvalue(), "scan.zip")]})
    text = answer.content.decode()
    assert ImageFrame.objects.count() == 2
    assert "2 files left out" in text
    assert "scan/broken" in text
    assert "This is a PDF" in text


def test_a_picture_has_no_scale(client, study):
    from PIL import Image

    target = io.BytesIO()
    Image.new("L", (40, 30), 90).save(target, "PNG")
    client.post(page(study), {"pictures": [sent(target.getvalue(), "film.png")]})
    frame = ImageFrame.objects.get()
    assert (frame.basis, frame.row_mm, frame.file.kind) == ("none", None, "picture")
    assert frame.series.differs == ["nothing"]
    assert "not calibrated: ratios only" in client.get(page(study)).content.decode()


def test_nothing_chosen_is_said(client, study):
    answer = client.post(page(study), {})
    assert answer.status_code == 422
    assert "Choose the image files, a ZIP or a folder." in answer.content.decode()


def test_images_that_name_somebody_else_wait_for_a_person(client, study):
    client.post(page(study), {"pictures": [sent(own(study, PatientID="HGH-999"))]})
    series = ImageSeries.objects.get()
    assert series.differs == ["number"]
    look = reverse("image-series", args=[series.pk])
    whose = reverse("image-identity", args=[series.pk])
    pixels = reverse("image-pixels", args=[series.frames.get().pk])
    assert client.get(look).url == whose
    assert client.get(pixels).status_code == 404
    shown = client.get(whose).content.decode()
    assert "The number differs." in shown
    assert "HGH-999" in shown
    unsaid = client.post(whose, {"version": series.version, "identity_note": " "})
    assert unsaid.status_code == 422
    client.post(whose, {"version": series.version, "identity_note": "Compared in the archive"})
    series.refresh_from_db()
    assert series.identity_confirmed_by.role == "nurse"
    assert client.get(look).status_code == 200
    assert client.get(pixels).status_code == 200


def test_two_identities_never_share_a_series(client, study):
    files = [sent(own(study, InstanceNumber=1)), sent(own(study, InstanceNumber=2, PatientID="9"))]
    client.post(page(study), {"pictures": files})
    assert sorted(series.differs for series in ImageSeries.objects.all()) == [[], ["number"]]


def test_slices_stand_in_the_order_of_the_patient(client, study):
    places = (20.0, 0.0, 10.0)
    files = [
        sent(
            own(
                study,
                InstanceNumber=number,
                ImagePositionPatient=[x, 0.0, 0.0],
                ImageOrientationPatient=[0.0, 1.0, 0.0, 0.0, 0.0, -1.0],
            ),
            f"IM{number}",
        )
        for number, x in enumerate(places)
    ]
    client.post(page(study), {"pictures": files})
    series = ImageSeries.objects.get()
    assert series.plane == "sagittal"
    order = [frame.position[0] for frame in series.frames.order_by("place")]
    assert order in ([0.0, 10.0, 20.0], [20.0, 10.0, 0.0])
    data = json.loads(_data(client.get(reverse("image-series", args=[series.pk]))))
    assert [frame["label"] for frame in data["frames"]] == ["1 of 3", "2 of 3", "3 of 3"]


def test_a_gap_and_a_name_in_the_picture_are_told(client, study):
    files = [
        sent(
            own(
                study,
                InstanceNumber=number,
                ImagePositionPatient=[x, 0.0, 0.0],
                ImageOrientationPatient=[0.0, 1.0, 0.0, 0.0, 0.0, -1.0],
                BurnedInAnnotation="YES",
            ),
            f"IM{number}",
        )
        for number, x in enumerate((0.0, 4.0, 8.0, 12.0, 24.0))
    ]
    client.post(page(study), {"pictures": files})
    series = ImageSeries.objects.get()
    shown = client.get(reverse("image-series", args=[series.pk])).content.decode()
    assert "a name stands in the picture itself" in shown
    assert len(seen_notes(series)) == 1
    assert seen_notes(series)[0] in unescape(shown)


def _data(answer) -> str:
    html = answer.content.decode()
    start = html.index(">", html.index('id="viewer-data"')) + 1
    return html[start : html.index("</script>", start)]


def test_pixels_come_as_stored_values_with_what_they_mean(client, study):
    with acting("test"):
        series = make_series(study)
    answer = client.get(reverse("image-pixels", args=[series.frames.get().pk]))
    head = json.loads(answer["X-Picture"])
    assert (head["rows"], head["columns"]) == (ROWS, COLUMNS)
    assert len(answer.content) == ROWS * COLUMNS * (1 if head["layout"] == "uint8" else 2)


def test_a_changed_file_is_not_shown(client, study):
    with acting("test"):
        frame = make_series(study).frames.get()
        frame.file.sha256 = "0" * 64
        frame.file.save()
    answer = client.get(reverse("image-pixels", args=[frame.pk]))
    assert answer.status_code == 422
    assert "has to come back from a backup" in answer.content.decode()


def test_the_numbering_is_confirmed_once_by_a_person(client, study):
    address = reverse("study-numbering", args=[study.pk])
    typed = {"version": study.version, "counted_from": "", "transitional": "no"}
    assert client.post(address, typed).status_code == 422
    answer = client.post(address, typed | {"counted_from": "sacrum"})
    assert answer.url == page(study)
    study.refresh_from_db()
    assert study.numbering_confirmed_by.role == "nurse"
    assert study.counted_from == "sacrum"


def test_two_studies_that_number_differently_wait_for_words(client, study):
    with acting("test"):
        Study.objects.create(
            patient=study.patient, modality="mri", performed_on=TODAY, transitional="lumbarised"
        )
    address = reverse("study-numbering", args=[study.pk])
    record = reverse("patient-record", args=[study.patient_id])
    typed = {"version": study.version, "counted_from": "sacrum", "transitional": "no"}
    with acting("test"):
        Study.objects.filter(pk=study.pk).update(transitional="no")
    assert "Levels are counted in two ways." in client.get(record).content.decode()
    refused = client.post(address, typed)
    assert refused.status_code == 422
    assert "Another study numbers differently. Say how the two agree." in refused.content.decode()
    note = {"numbering_note": "L5 here is L6 there"}
    assert client.post(address, typed | note).status_code == 302
    assert "L5 here is L6 there" in client.get(page(study)).content.decode()
    assert "Levels are counted in two ways." not in client.get(record).content.decode()


def test_the_list_costs_the_same_for_one_series_and_for_many(
    client, study, django_assert_max_num_queries
):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as asked:
            client.get(page(study))
        counts.append(len(asked))
        with acting("test"):
            for number in range(5):
                ImageSeries.objects.create(study=study, uid=f"9.{number}", plane="axial")
    assert counts[0] == counts[1]


def test_the_example_images_can_be_tried(client, study):
    """What the README leads to: three series that name nobody, in the order of the patient."""
    content = (Path(__file__).parents[2] / "fixtures/images/invented-spine.zip").read_bytes()
    answer = client.post(page(study), {"pictures": [sent(content, "invented-spine.zip")]})
    assert "19 files taken, 19 pictures." in answer.content.decode()
    found = {str(one): one for one in ImageSeries.objects.all()}
    assert {name: one.plane for name, one in found.items()} == {
        "Lateral film": "lateral",
        "Sagittal": "sagittal",
        "Axial": "axial",
    }
    assert all(one.differs == ["nothing"] for one in found.values())
    assert found["Lateral film"].frames.get().basis == "magnification"
    assert found["Sagittal"].frame_of_reference == found["Axial"].frame_of_reference


def test_after_a_move_to_another_patient_whose_they_are_is_asked_again(client, people, study):
    client.post(page(study), {"pictures": [sent(own(study))]})
    series = ImageSeries.objects.get()
    look = reverse("image-series", args=[series.pk])
    assert client.get(look).status_code == 200
    with acting("test"):
        study.patient = make_patient(people.site, family_name="Ashbeck", given_name="Maud")
        study.save()
    whose = reverse("image-identity", args=[series.pk])
    assert client.get(look).url == whose
    client.post(whose, {"version": series.version, "identity_note": "Seen in the archive"})
    assert client.get(look).status_code == 200
    with acting("test"):
        study.patient = make_patient(people.site, family_name="Brand", given_name="Ida")
        study.save()
    assert client.get(look).url == whose
    assert client.get(reverse("mark-start", args=[series.pk])).url == whose


def test_a_series_stays_while_marks_depend_on_it_and_its_files_can_come_again(client, study):
    content = own(study)
    client.post(page(study), {"pictures": [sent(content)]})
    series = ImageSeries.objects.get()
    with acting("test"):
        reading = Reading.objects.create(
            study=study, level="L1", observer=User.objects.get(role="nurse"), read_on=TODAY
        )
        marking = make_marking(reading, series.frames.get())
    aside = reverse("record-aside", args=["image-series", series.pk])
    typed = {"version": series.version, "reason": "Another patient's"}
    refused = client.post(aside, typed)
    assert refused.status_code == 422
    assert "Marks were set on its pictures (1)." in refused.content.decode()
    with acting("test"):
        marking.voided_at, marking.void_reason = marking.created_at, "Trial"
        marking.save()
    assert client.post(aside, typed).status_code == 302
    assert not ImageFrame.objects.live().exists()
    again = client.post(page(study), {"pictures": [sent(content)]})
    assert "1 file taken, 1 picture." in again.content.decode()
    assert ImageFrame.objects.live().count() == 1
    assert ImageFile.objects.count() == 1


def test_too_many_files_at_once_change_nothing_and_are_told(client, study):
    files = [sent(b"x", f"IM{number}") for number in range(801)]
    answer = client.post(page(study), {"pictures": files})
    assert answer.status_code == 400
    assert "send more as one ZIP" in answer.content.decode()
    assert not ImageFile.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_the_same_files_sent_twice_at_once_are_taken_once(monkeypatch):
    with acting("test"):
        people = make_people()
        patient = make_patient(people.site)
        study = Study.objects.create(patient=patient, modality="ct", performed_on=TODAY)
    content = own(study)
    with two_at_once() as both:
        said = both(
            lambda name: (
                images_take(
                    study=study, user=people.users["nurse"], sent=[(name, io.BytesIO(content))]
                ).words
            ),
            ("one",),
            ("other",),
        )
    assert sorted(said) == [
        "0 files taken, 0 pictures; 1 file here already.",
        "1 file taken, 1 picture.",
    ]
    assert ImageFrame.objects.count() == 1
