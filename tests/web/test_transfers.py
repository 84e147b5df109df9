"""The pages on which records are made one, moved, and given back."""

import pytest

from register.history import acting
from register.models import AccessLog, Fracture, Patient, RecordTransfer, Review, Study
from tests import factories as make
from tests.web.people import People, make_people

pytestmark = pytest.mark.django_db


class World:
    """Two records of one person, a third of somebody else, one fracture each."""

    def __init__(self) -> None:
        self.people: People = make_people()
        site, user = self.people.site, self.people.users["nurse"]
        self.one = make.make_patient(site, family_name="Ashbeck", postcode="")
        self.two = make.make_patient(site, family_name="Ashbek", nhs_number="", postcode="HM2 2BB")
        self.fractures = {}
        for patient, level in ((self.one, "L1"), (self.two, "L2")):
            fracture = make.make_fracture(make.make_referral(patient), level=level)
            make.make_measurement(make.make_reading(fracture, user))
            self.fractures[patient.pk] = fracture
        self.procedure = make.make_procedure(
            self.fractures[self.two.pk], make.make_technique(site), user
        )
        self.review = make.make_review(
            self.procedure, held_on=make.TODAY, recorded_by=user, red_flags=["none"], note="told"
        )
        make.make_score(self.review)
        self.client = self.people.client("nurse")

    def merge_address(self) -> str:
        return f"/patients/{self.one.pk}/same-person/{self.two.pk}/"

    def merge_data(self, **typed: object) -> dict[str, object]:
        defaults = {
            "stay_version": self.one.version,
            "gone_version": self.two.version,
            "field_name": "stay",
            "reason": "Two numbers, one person",
            "sure": "on",
        }
        return defaults | typed

    def merge(self) -> RecordTransfer:
        answer = self.client.post(self.merge_address(), self.merge_data())
        assert answer.status_code == 302, answer.content.decode()
        return RecordTransfer.objects.get(kind="merge", undone_at=None)


@pytest.fixture
def world() -> World:
    with acting("test"):
        return World()


def words_of(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_the_other_record_is_found_by_its_similar_name_and_by_its_number(world):
    page = words_of(world.client.get(f"/patients/{world.one.pk}/same-person/"))
    assert world.two.hospital_number in page
    assert 'class="identity"' not in page
    address = f"/patients/{world.one.pk}/same-person/"
    assert world.client.post(address, {"text": world.two.hospital_number}).status_code == 302
    assert f"same-person/{world.two.pk}/" in words_of(world.client.get(address))


def test_both_records_stand_side_by_side_without_an_identity_strip(world):
    page = words_of(world.client.get(world.merge_address()))
    assert 'class="identity"' not in page
    assert "ASHBECK, Maud" in page
    assert "ASHBEK, Maud" in page
    assert "Are they one person?" in page
    assert "taken over" in page  # the postcode that only the other record has
    noted = set(AccessLog.objects.filter(page="merge").values_list("patient_id", flat=True))
    assert noted == {world.one.pk, world.two.pk}


def test_a_merge_moves_everything_and_the_old_number_and_address_lead_to_the_record(world):
    done = world.merge()
    world.one.refresh_from_db()
    world.two.refresh_from_db()
    assert world.one.postcode == "HM2 2BB"
    assert str(world.one.pk) in world.two.void_reason
    for model in (Fracture, Study, Review):
        assert not model.objects.filter(patient=world.two).exists()
    assert Fracture.objects.filter(patient=world.one).count() == 2
    answer = world.client.get(f"/patients/{world.two.pk}/details/", follow=True)
    assert answer.redirect_chain[0][0] == world.one.get_absolute_url()
    page = words_of(answer)
    assert "set aside" in page
    assert f"Also known under {world.two.hospital_number}" in page
    assert f"/transfers/{done.pk}/" in page
    world.client.post("/patients/", {"text": world.two.hospital_number})
    found = words_of(world.client.get("/patients/"))
    assert world.one.hospital_number in found
    assert f"also known under {world.two.hospital_number}" in found


def test_what_is_sent_to_a_record_that_was_set_aside_is_not_saved_and_says_so(world):
    world.merge()
    answer = world.client.post(f"/patients/{world.two.pk}/details/", {"family_name": "Changed"})
    assert answer.status_code == 409
    assert "Nothing was saved" in words_of(answer)
    assert f"/patients/{world.one.pk}/" in words_of(answer)


def test_a_number_of_a_record_that_was_set_aside_is_taken(world):
    world.merge()
    answer = world.client.post(
        "/patients/new/",
        {
            "hospital_number": world.two.hospital_number,
            "family_name": "Other",
            "given_name": "Ann",
            "date_of_birth_0": "3",
            "date_of_birth_1": "4",
            "date_of_birth_2": "1950",
        },
    )
    assert answer.status_code == 422
    assert "This hospital number belongs to ASHBECK" in words_of(answer)


def test_a_record_that_was_edited_meanwhile_is_told_and_nothing_is_done(world):
    with acting("test"):
        Patient.objects.filter(pk=world.two.pk).update(version=9, care_home="Elm House")
    answer = world.client.post(world.merge_address(), world.merge_data())
    assert answer.status_code == 422
    page = words_of(answer)
    assert "It was changed by test while you had this page open" in page
    assert "Elm House" in page
    assert 'name="gone_version" value="9"' in page
    assert not RecordTransfer.objects.exists()


def test_without_a_reason_or_the_tick_nothing_is_done(world):
    answer = world.client.post(world.merge_address(), world.merge_data(reason="", sure=""))
    assert answer.status_code == 422
    assert "Say why" in words_of(answer)
    assert not RecordTransfer.objects.exists()


def test_the_same_waiting_fracture_is_asked_about_and_only_one_stands(world):
    with acting("test"):
        Fracture.objects.filter(pk=world.fractures[world.two.pk].pk).update(level="L1")
    page = words_of(world.client.get(world.merge_address()))
    assert "The same fracture in both" in page
    key = f"kept_fracture-{world.fractures[world.two.pk].pk}-{world.fractures[world.one.pk].pk}"
    answer = world.client.post(world.merge_address(), world.merge_data())
    assert answer.status_code == 422
    answer = world.client.post(world.merge_address(), world.merge_data(**{key: "stay"}))
    assert answer.status_code == 302
    live = Fracture.objects.live().get(patient=world.one, level="L1")
    assert live.readings.count() == 2
    assert live.treatments.count() == 1


def test_the_same_procedure_in_both_has_to_be_put_right_first(world):
    with acting("test"):
        make.make_procedure(
            world.fractures[world.one.pk], world.procedure.technique, world.procedure.operator
        )
    page = words_of(world.client.get(world.merge_address()))
    assert "To be put right first" in page
    assert "Make them one record</button>" not in page
    assert world.client.post(world.merge_address(), world.merge_data()).status_code == 422
    assert not RecordTransfer.objects.exists()


def test_an_undo_says_what_it_would_do_and_does_it(world):
    done = world.merge()
    with acting("test"):
        make.make_fracture(make.make_referral(world.one), level="T8")
        Study.objects.filter(readings__fracture=world.fractures[world.two.pk]).update(
            sequences="T1", version=8
        )
    page = words_of(world.client.get(f"/transfers/{done.pk}/undo/"))
    assert "T8 fracture" in page
    assert "stays here" in page
    assert "went back with what was changed in it since" in page
    assert Patient.objects.get(pk=world.two.pk).voided_at is not None  # only looked
    answer = world.client.post(f"/transfers/{done.pk}/undo/", {"reason": "Two people"})
    assert answer.status_code == 302
    world.two.refresh_from_db()
    assert world.two.voided_at is None
    assert Fracture.objects.filter(patient=world.two).count() == 1
    assert Fracture.objects.filter(patient=world.one, level="T8").exists()
    page = words_of(world.client.get(f"/transfers/{done.pk}/"))
    assert "A person has to look at these" in page
    again = world.client.post(f"/transfers/{done.pk}/undo/", {"reason": "Again"})
    assert "This was undone already" in words_of(again)


def move_address(patient: Patient, kind: str, row, to: Patient) -> str:
    return f"/patients/{patient.pk}/wrong-patient/{kind}/{row.pk}/to/{to.pk}/"


def hidden(page: str, name: str) -> str:
    return page.split(f'name="{name}" value="')[1].split('"')[0]


def test_the_right_patient_is_named_by_number_only(world):
    study = Study.objects.get(patient=world.one)
    address = f"/patients/{world.one.pk}/wrong-patient/study/{study.pk}/"
    assert f'href="{address}"' in words_of(
        world.client.get(f"/patients/{world.one.pk}/wrong-patient/")
    )
    for typed in ("Ashbek", world.one.hospital_number, "H999999", ""):
        assert world.client.post(address, {"number": typed}).status_code == 422, typed
    answer = world.client.post(address, {"number": world.two.hospital_number})
    assert answer.url == move_address(world.one, "study", study, world.two)


def test_a_move_asks_of_what_hangs_on_it_and_shows_the_list_again(world):
    study = Study.objects.get(patient=world.one)
    address = move_address(world.one, "study", study, world.two)
    page = words_of(world.client.get(address))
    assert 'class="identity"' not in page
    assert page.index("ASHBECK, Maud") < page.index("ASHBEK, Maud")
    fracture = world.fractures[world.one.pk]
    key = f"with_fracture-{fracture.pk}"
    data = {"version": study.version, "digest": hidden(page, "digest"), "reason": "Mixed up"}
    assert world.client.post(address, data).status_code == 422
    again = world.client.post(address, data | {key: "stays"})
    assert again.status_code == 200
    assert "Read the list again" in words_of(again)
    assert Study.objects.get(pk=study.pk).patient_id == world.one.pk
    data["digest"] = hidden(words_of(again), "digest")
    assert world.client.post(address, data | {key: "stays"}).status_code == 302
    study.refresh_from_db()
    assert study.patient_id == world.two.pk
    assert study.readings.get().fracture_id is None
    page = words_of(world.client.get(world.one.get_absolute_url()))
    assert "went from here to another patient" in page
    assert world.two.hospital_number not in page
    done = RecordTransfer.objects.get()
    assert world.client.post(f"/transfers/{done.pk}/undo/", {"reason": "No"}).status_code == 302
    study.refresh_from_db()
    assert (study.patient_id, study.readings.get().fracture_id) == (world.one.pk, fracture.pk)


def test_a_treated_fracture_does_not_move_without_its_procedure(world):
    fracture = world.fractures[world.two.pk]
    address = move_address(world.two, "fracture", fracture, world.one)
    page = words_of(world.client.get(address))
    assert "One cannot be moved without the other." in page
    key = f"with_procedure-{world.procedure.pk}"
    answer = world.client.post(
        address, {"version": 1, "digest": hidden(page, "digest"), "reason": "x", key: "stays"}
    )
    assert answer.status_code == 422
    assert not RecordTransfer.objects.exists()


def test_the_answers_of_a_contact_go_to_an_open_contact_of_the_right_patient(world):
    with acting("test"):
        other = make.make_procedure(
            world.fractures[world.one.pk], world.procedure.technique, world.procedure.operator
        )
        into = make.make_review(other)
    address = move_address(world.two, "review", world.review, world.one)
    answer = world.client.post(
        address, {"version": 1, "contact": into.pk, "reason": "Wrong page open"}
    )
    assert answer.status_code == 302
    into.refresh_from_db()
    world.review.refresh_from_db()
    assert (into.held_on, into.note, into.scores.count()) == (make.TODAY, "told", 1)
    assert (world.review.held_on, world.review.scores.count()) == (None, 0)
    done = RecordTransfer.objects.get()
    world.client.post(f"/transfers/{done.pk}/undo/", {"reason": "It was right"})
    into.refresh_from_db()
    world.review.refresh_from_db()
    assert (into.held_on, world.review.held_on) == (None, make.TODAY)
    assert world.review.scores.count() == 1


def test_without_an_open_contact_there_is_nowhere_to_put_the_answers(world):
    page = words_of(world.client.get(move_address(world.two, "review", world.review, world.one)))
    assert "No open contact there" in page
    assert "Move the answers</button>" not in page


def test_another_department_is_not_there(world):
    with acting("test"):
        elsewhere = make.make_patient(make.make_site())
        user = make.make_user(elsewhere.site, "nurse")
        transfer = world.merge()
    for address in (
        f"/patients/{elsewhere.pk}/same-person/",
        f"/patients/{world.one.pk}/same-person/{elsewhere.pk}/",
        f"/patients/{elsewhere.pk}/wrong-patient/",
    ):
        assert world.client.get(address).status_code == 404, address
        assert world.client.post(address).status_code in (404, 405), address
    stranger = People(elsewhere.site, {"nurse": user}).client("nurse")
    for address in (f"/transfers/{transfer.pk}/", f"/transfers/{transfer.pk}/undo/"):
        assert stranger.get(address).status_code == 404
    assert stranger.get(f"/patients/{world.two.pk}/details/").status_code == 404
