"""Rows given another patient: nothing lost, nothing torn, nothing unknown, all of it undone."""

import threading
from random import Random

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, connections, models
from django.test.utils import isolate_apps

from planning.drills import transfers as drill
from planning.drills._people import Department
from register.history import acting
from register.history.reading import changes_of_row
from register.models import (
    Fracture,
    LaboratoryResult,
    Patient,
    Procedure,
    RecordTransfer,
    Referral,
    Review,
    Study,
)
from register.selectors import relations
from register.selectors.moving import move_plan
from register.selectors.set_aside import known_under, other_numbers, standing_for
from register.services.editing import EditConflict
from register.services.transfer_undo import transfer_undo, undo_preview
from register.services.transfers import record_move, records_merge
from tests import factories as make

pytestmark = pytest.mark.django_db


class Pair:
    """Two records, each with a referral, a fracture and a study."""

    def __init__(self) -> None:
        self.site = make.make_site()
        self.user = make.make_user(self.site, "consultant")
        self.one, self.two = (make.make_patient(self.site) for _ in range(2))
        self.one_fracture, self.two_fracture = (
            make.make_fracture(make.make_referral(patient), level=level)
            for patient, level in ((self.one, "L1"), (self.two, "L2"))
        )
        self.reading = make.make_reading(self.two_fracture, self.user)
        self.technique = make.make_technique(self.site)

    def merge(self, **given) -> RecordTransfer:
        stay = Patient.objects.get(pk=given.pop("stay", self.one).pk)
        gone = Patient.objects.get(pk=given.pop("gone", self.two).pk)
        defaults = {
            "versions": (stay.version, gone.version),
            "chosen": {},
            "kept": {},
            "reason": "one person",
            "user": self.user,
        }
        return records_merge(stay=stay, gone=gone, **defaults | given)

    def move(self, row, to, **answers) -> RecordTransfer:
        return record_move(
            row=row,
            to=to,
            expected_version=row.version,
            answers=answers,
            digest=move_plan(row, to, answers).digest,
            reason="mixed up",
            user=self.user,
        )


@pytest.fixture
def pair(db) -> Pair:
    with acting("test"):
        return Pair()


# --- all tables ---------------------------------------------------------------------


def test_random_records_are_merged_moved_and_given_back_exactly():
    told: list[str] = []
    assert drill.run(runs=3, seed=1, say=told.append), told


def test_every_relation_to_a_patient_is_declared_and_every_declaration_is_true():
    assert relations.unknown_relations() == []
    there = {relations.label_of(field) for field, _ in relations._keys(relations.all_models())}
    assert set(relations.declared()) <= there


def test_each_row_of_a_patients_own_names_the_patient_in_the_same_column():
    own = relations.own_links(relations.links())
    assert {link.column for link in own} == {"patient_id"}
    assert all(hasattr(link.model, "version") for link in own)


def test_no_link_between_rows_of_a_patient_is_overlooked():
    with acting("test"):
        home = Department("Links")
        for number in range(6):
            home.record(Random(number))
    among = relations.links()
    unseen = {relations.label_of(link.field) for link in relations.binding_links(among)}
    for link in relations.binding_links(among):
        for row in link.model._base_manager.filter(voided_at=None, **{f"{link.column}__gt": 0}):
            target = relations.root_of(getattr(row, link.field.name), among)
            members = relations.with_parts({type(target): {target.pk}}, among)
            torn = relations.crossings(members, among)
            if row.pk in members[link.model] or any(one.row == row for one in torn):
                unseen.discard(relations.label_of(link.field))
    assert unseen == set()


@isolate_apps("register")
def test_a_table_that_nobody_declared_stops_every_transfer(pair, monkeypatch):
    class Strange(models.Model):
        procedure = models.ForeignKey(Procedure, models.CASCADE)

        class Meta:
            app_label = "register"

    known = relations.all_models()
    monkeypatch.setattr(relations, "all_models", lambda: [*known, Strange])
    assert relations.unknown_relations() == ["register.Strange.procedure"]
    for act in (pair.merge, lambda: pair.move(pair.two_fracture.referral, pair.one)):
        with pytest.raises((ValidationError, relations.UnknownRelation), match="Strange"):
            act()
    assert not RecordTransfer.objects.exists()
    assert Patient.objects.get(pk=pair.two.pk).voided_at is None


def test_every_table_that_names_a_patient_refuses_a_row_for_a_record_set_aside():
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT tgrelid::regclass::text FROM pg_trigger WHERE tgname = 'patient_is_live'"
        )
        guarded = {row[0] for row in cursor.fetchall()}
    own = relations.own_links(relations.links())
    assert guarded == {link.model._meta.db_table for link in own}


def test_a_row_that_comes_too_late_is_refused(pair):
    pair.merge()
    with pytest.raises(IntegrityError, match="set aside"), acting("test"):
        make.make_referral(pair.two)


# --- merge --------------------------------------------------------------------------


def test_a_merge_is_told_in_the_history_of_each_row_and_raises_its_version(pair):
    pair.merge()
    fracture = Fracture.objects.get(pk=pair.two_fracture.pk)
    assert (fracture.patient_id, fracture.version) == (pair.one.pk, pair.two_fracture.version + 1)
    last = changes_of_row(fracture)[-1]
    assert last.reason == "Two records of one person made one: one person"
    assert last.fields["patient_id"] == (pair.two.pk, pair.one.pk)
    assert last.actor == pair.user.username


def test_a_second_merge_of_the_pair_is_told_who_was_first(pair):
    pair.merge()
    for stay, gone in ((pair.one, pair.two), (pair.two, pair.one)):
        with pytest.raises(ValidationError, match=f"by {pair.user}.*second time"):
            pair.merge(stay=stay, gone=gone)


def test_a_record_edited_meanwhile_is_a_conflict(pair):
    with pytest.raises(EditConflict):
        pair.merge(versions=(1, 7))
    assert not RecordTransfer.objects.exists()


def test_the_choice_of_values_carries_reasons_and_both_stay_in_the_history(pair):
    with acting("test"):
        Patient.objects.filter(pk=pair.one.pk).update(
            nhs_number="", absent={"nhs_number": "declined"}
        )
        Patient.objects.filter(pk=pair.two.pk).update(family_name="Other", address="2 Mill Lane")
    number = Patient.objects.get(pk=pair.two.pk).nhs_number
    pair.merge(chosen={"name": "gone"})
    stay = Patient.objects.get(pk=pair.one.pk)
    assert (stay.family_name, stay.address, stay.nhs_number) == ("Other", "2 Mill Lane", number)
    assert stay.absent == {}
    assert changes_of_row(stay)[-1].old["family_name"] == pair.one.family_name


def test_contradicting_halves_of_an_address_are_never_mixed(pair):
    with acting("test"):
        Patient.objects.filter(pk=pair.one.pk).update(address="1 Mill Lane")
        Patient.objects.filter(pk=pair.two.pk).update(address="9 Elm Road", postcode="HM2 2BB")
    pair.merge()
    stay = Patient.objects.get(pk=pair.one.pk)
    assert (stay.address, stay.postcode) == ("1 Mill Lane", "")


def test_what_hangs_on_a_fracture_goes_to_the_one_that_is_kept(pair):
    with acting("test"):
        Fracture.objects.filter(pk=pair.two_fracture.pk).update(level="L1")
        decision = make.make_decision(pair.two_fracture, pair.user)
    key = f"fracture-{pair.two_fracture.pk}-{pair.one_fracture.pk}"
    with pytest.raises(ValidationError, match="which of the two is kept"):
        pair.merge()
    done = pair.merge(kept={key: "stay"})
    decision.refresh_from_db()
    pair.reading.refresh_from_db()
    assert {decision.fracture_id, pair.reading.fracture_id} == {pair.one_fracture.pk}
    dropped = Fracture.objects.get(pk=pair.two_fracture.pk)
    assert dropped.voided_at is not None
    transfer_undo(transfer=done, reason="two people", user=pair.user)
    decision.refresh_from_db()
    dropped.refresh_from_db()
    assert (decision.fracture_id, dropped.voided_at) == (dropped.pk, None)


def test_a_decided_fracture_does_not_give_way_to_one_that_waits(pair):
    with acting("test"):
        Fracture.objects.filter(pk=pair.two_fracture.pk).update(level="L1", state="listed")
    key = f"fracture-{pair.two_fracture.pk}-{pair.one_fracture.pk}"
    with pytest.raises(ValidationError, match="decided or treated"):
        pair.merge(kept={key: "stay"})
    pair.merge(kept={key: "gone"})
    assert Fracture.objects.live().get(patient=pair.one).pk == pair.two_fracture.pk


def test_numbers_lead_along_a_chain_of_merges(pair):
    with acting("test"):
        third = make.make_patient(pair.site)
    pair.merge()
    pair.merge(stay=third, gone=pair.one)
    assert standing_for(Patient.objects.get(pk=pair.two.pk)) == third
    assert known_under(pair.site, pair.two.hospital_number) == [third]
    numbers = other_numbers([third])[third.pk]
    assert {pair.one.hospital_number, pair.two.hospital_number} <= set(numbers)


# --- undo ---------------------------------------------------------------------------


def test_a_row_edited_since_goes_back_and_is_listed_and_a_new_one_stays(pair):
    done = pair.merge()
    with acting("test"):
        Referral.objects.filter(pk=pair.two_fracture.referral_id).update(note="more", version=5)
        new = LaboratoryResult.objects.create(
            patient=pair.one, analyte="crp", unit="mg/L", value=4, taken_on=make.TODAY
        )
    outcome = transfer_undo(transfer=done, reason="two people", user=pair.user)
    assert [row.note for row in outcome.edited] == ["more"]
    assert outcome.stays == [new]
    done.refresh_from_db()
    assert {entry["table"] for entry in done.left_by_undo} == {
        "register_referral",
        "register_laboratoryresult",
    }
    referral = Referral.objects.get(pk=pair.two_fracture.referral_id)
    assert (referral.patient_id, referral.note) == (pair.two.pk, "more")


def test_a_procedure_recorded_since_goes_along_with_its_fracture(pair):
    done = pair.merge()
    with acting("test"):
        fracture = Fracture.objects.get(pk=pair.two_fracture.pk)
        review = make.make_review(make.make_procedure(fracture, pair.technique, pair.user))
    outcome = transfer_undo(transfer=done, reason="two people", user=pair.user)
    assert {type(row) for row in outcome.along} == {Procedure, Review}
    review.refresh_from_db()
    assert (review.patient_id, review.procedure.patient_id) == (pair.two.pk, pair.two.pk)


def test_a_procedure_of_both_peoples_fractures_stops_the_undo(pair):
    done = pair.merge()
    with acting("test"):
        fracture = Fracture.objects.get(pk=pair.two_fracture.pk)
        procedure = make.make_procedure(fracture, pair.technique, pair.user)
        procedure.levels.create(fracture=pair.one_fracture)
    with pytest.raises(ValidationError, match="hangs on what would go back"):
        undo_preview(transfer=done, user=pair.user)
    with pytest.raises(ValidationError, match="hangs on what would go back"):
        transfer_undo(transfer=done, reason="two people", user=pair.user)
    assert Fracture.objects.get(pk=pair.two_fracture.pk).patient_id == pair.one.pk


def test_details_edited_since_are_left_and_the_rest_goes_back(pair):
    with acting("test"):
        Patient.objects.filter(pk=pair.two.pk).update(address="2 Mill Lane", care_home="Elm House")
    done = pair.merge()
    with acting("test"):
        Patient.objects.filter(pk=pair.one.pk).update(address="3 Mill Lane", version=9)
    outcome = transfer_undo(transfer=done, reason="two people", user=pair.user)
    stay = Patient.objects.get(pk=pair.one.pk)
    assert (stay.address, stay.care_home) == ("3 Mill Lane", "")
    assert [why for _, why in outcome.left] == ["Address was changed since and stays"]


def test_an_nhs_number_that_was_taken_over_goes_back_with_the_record(pair):
    with acting("test"):
        Patient.objects.filter(pk=pair.one.pk).update(nhs_number="")
    done = pair.merge()
    assert Patient.objects.get(pk=pair.one.pk).nhs_number == pair.two.nhs_number
    transfer_undo(transfer=done, reason="two people", user=pair.user)
    found = Patient.objects.filter(nhs_number=pair.two.nhs_number, voided_at=None)
    assert [one.pk for one in found] == [pair.two.pk]


def test_an_earlier_merge_is_not_undone_under_a_later_one(pair):
    with acting("test"):
        third = make.make_patient(pair.site)
    done = pair.merge()
    pair.merge(stay=third, gone=pair.one)
    with pytest.raises(ValidationError, match="Undo that first"):
        transfer_undo(transfer=done, reason="two people", user=pair.user)


def test_a_preview_changes_nothing(pair):
    done = pair.merge()
    outcome = undo_preview(transfer=done, user=pair.user)
    assert {type(row) for row in outcome.back} == {Referral, Fracture, Study}
    assert Patient.objects.get(pk=pair.two.pk).voided_at is not None
    assert RecordTransfer.objects.get(pk=done.pk).undone_at is None


# --- move ---------------------------------------------------------------------------


def test_a_referral_takes_its_fractures_and_asks_of_the_images(pair):
    referral, study = pair.two_fracture.referral, pair.reading.study
    plan = move_plan(referral, pair.one, {})
    assert set(plan.rows) == {referral, pair.two_fracture}
    assert [question.row for question in plan.open_questions] == [study]
    pair.move(referral, pair.one, **{f"study-{study.pk}": "along"})
    study.refresh_from_db()
    assert study.patient_id == pair.one.pk
    assert not Fracture.objects.filter(patient=pair.two).exists()


def test_an_unanswered_question_or_a_list_that_grew_stops_a_move(pair):
    referral = pair.two_fracture.referral
    with pytest.raises(ValidationError, match="whether it goes along"):
        pair.move(referral, pair.one)
    answers = {f"study-{pair.reading.study_id}": "stays"}
    digest = move_plan(referral, pair.one, answers).digest
    with acting("test"):
        make.make_fracture(referral, level="T9")
    with pytest.raises(ValidationError, match="Read the list again"):
        record_move(
            row=referral,
            to=pair.one,
            expected_version=1,
            answers=answers,
            digest=digest,
            reason="mixed up",
            user=pair.user,
        )


def test_nothing_is_moved_over_the_same_fracture(pair):
    with acting("test"):
        Fracture.objects.filter(pk=pair.two_fracture.pk).update(level="L1")
    with pytest.raises(ValidationError, match="has the same already"):
        pair.move(
            Referral.objects.get(pk=pair.two_fracture.referral_id),
            pair.one,
            **{f"study-{pair.reading.study_id}": "along"},
        )


def test_a_move_is_undone_all_or_nothing(pair):
    referral = pair.two_fracture.referral
    done = pair.move(referral, pair.one, **{f"study-{pair.reading.study_id}": "stays"})
    with acting("test"):
        third = make.make_patient(pair.site)
        Fracture.objects.filter(pk=pair.two_fracture.pk).update(patient=third)
    with pytest.raises(ValidationError, match="moved or changed again"):
        transfer_undo(transfer=done, reason="right before", user=pair.user)
    assert Referral.objects.get(pk=referral.pk).patient_id == pair.one.pk


def test_another_department_gets_nothing(pair):
    with acting("test"):
        elsewhere = make.make_patient(make.make_site())
    with pytest.raises(ValidationError, match="different departments"):
        pair.merge(gone=elsewhere)


# --- two at once --------------------------------------------------------------------


@pytest.mark.django_db(transaction=True)
def test_of_two_people_who_merge_the_same_pair_one_wins_and_the_other_is_told():
    with acting("test"):
        pair = Pair()
    start, told = threading.Barrier(2), []

    def act(stay: Patient, gone: Patient) -> None:
        start.wait(timeout=60)
        try:
            pair.merge(stay=stay, gone=gone, versions=(1, 1))
            told.append("done")
        except ValidationError as error:
            told.append(error.messages[0])
        finally:
            connections.close_all()

    ends = ((pair.one, pair.two), (pair.two, pair.one))
    both = [threading.Thread(target=act, args=end) for end in ends]
    for thread in both:
        thread.start()
    for thread in both:
        thread.join()
    assert told.count("done") == 1
    assert any("Nothing was done a second time" in words for words in told)
    assert RecordTransfer.objects.count() == 1
