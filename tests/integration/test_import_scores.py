"""Files of follow-up scores: the right contact or nobody's, twice the same, and undone."""

from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command

from register.domain.protocol import shipped
from register.domain.timepoints import schedule
from register.history import acting
from register.imports.files import empty_file
from register.imports.kinds import KINDS
from register.imports.verdicts import LETTERS
from register.models import Review, Score
from register.selectors.import_undo import undo_plan
from register.selectors.imports import preview_of
from register.selectors.outcomes import due_reviews, previous_scores
from register.selectors.protocols import values_in_force
from register.selectors.review_pages import review_entry
from register.services import imports as writing
from register.services.editing import update_row
from register.services.import_undo import import_undo
from register.services.outcomes import ScoreEntry, review_record
from tests.factories import (
    make_fracture,
    make_patient,
    make_procedure,
    make_referral,
    make_site,
    make_technique,
    make_user,
)
from tests.integration.import_steps import confirm, look, rows_of_all_tables
from tests.referral_files import NHS, TODAY, written
from tests.score_files import CELLS, another, changed

pytestmark = pytest.mark.django_db
OPERATED = date(2026, 11, 20)  # the contact of CELLS lies in the window of 3 months


@pytest.fixture
def nurse(db):
    with acting("test"):
        return make_user(make_site(), "nurse")


@pytest.fixture
def patient(nurse):
    with acting("test"):
        return make_patient(
            nurse.site,
            hospital_number="H00104711",
            nhs_number=NHS,
            family_name="Zoëbeck",
            given_name="Maud",
            date_of_birth=date(1942, 5, 11),
        )


@pytest.fixture
def procedure(nurse, patient):
    return operated(nurse, patient, OPERATED)


def operated(nurse, patient, day, level="L1"):
    with acting("test"):
        began = {"onset_on": day - timedelta(days=30)}
        referral = make_referral(
            patient, referred_on=day - timedelta(days=9), pain_moving=None, **began
        )
        technique = make_technique(nurse.site, name=f"balloon tamping {day.year}")
        fracture = make_fracture(referral, level=level, **began)
        done = make_procedure(fracture, technique, nurse, performed_on=day)
        scheduled(patient, day, procedure=done)
    return done


def scheduled(patient, day, **follows):
    """Put the contacts of the shipped protocol in place, in one statement."""
    Review.objects.bulk_create(
        Review(
            patient=patient,
            timepoint=one.timepoint.code,
            anchor_on=day,
            opens_on=one.opens_on,
            target_on=one.target_on,
            closes_on=one.closes_on,
            **follows,
        )
        for one in schedule(day, shipped(day).timepoints)
    )


def send(nurse, *rows, names=CELLS):
    return keep(nurse, written(rows, names=[*CELLS, *(n for n in names if n not in CELLS)]))


def keep(nurse, content, kind="scores"):
    return writing.import_keep(
        site=nurse.site,
        user=nurse,
        file_name="clinic.csv",
        content=content,
        date_order="dmy",
        kind=kind,
        today=TODAY,
    )


def verdicts(nurse, *rows, names=CELLS):
    return look(send(nurse, *rows, names=names)).verdicts


def verdict(nurse, row):
    return verdicts(nurse, row, names=row)[0]


def contact(procedure, timepoint="months_3") -> Review:
    return procedure.reviews.live().get(timepoint=timepoint)


def values(review) -> dict[str, object]:
    return {
        s.instrument: s.value if s.value is not None else s.absent for s in review.scores.live()
    }


def by_hand(nurse, review, held_on=date(2027, 3, 1), **scores):
    return review_record(
        review=review,
        expected_version=review.version,
        scores={code: ScoreEntry(value) for code, value in scores.items()},
        fields={"held_on": held_on, "mode": "clinic", "informant": "patient"},
        token=f"test-{review.pk}-{review.version}",
        user=nurse,
    )


def test_a_due_contact_is_recorded_with_its_scores(nurse, procedure):
    kept = send(nurse, CELLS)
    seen = look(kept).verdicts[0]
    assert (seen.kind, seen.patient_id) == ("known", procedure.patient_id)
    assert seen.notes == ("“3 months” after balloon tamping 2026, L1, of 20 Nov 2026.",)
    confirm(nurse, kept)
    held = contact(procedure)
    assert (held.held_on, held.mode, held.informant) == (date(2027, 3, 1), "telephone", "patient")
    assert (held.recorded_by, held.red_flags, held.version) == (nurse, ["none"], 2)
    assert values(held) == {
        "pain_now": 3,
        "pain_worst": 5,
        "analgesic_step": 1,
        "mobility": 3,
        "falls": {"value": "not_known"},
    }
    assert not due_reviews(site=nurse.site, on=TODAY).filter(timepoint="months_3").exists()


def test_the_same_file_twice_changes_nothing(nurse, procedure):
    confirm(nurse, send(nurse, CELLS))
    before = rows_of_all_tables()
    assert verdict(nurse, CELLS).kind == "same"
    with pytest.raises(writing.ImportRefused, match="nothing to write"):
        confirm(nurse, send(nurse, CELLS))
    assert rows_of_all_tables() | {"register.FileImport": 0} == before | {"register.FileImport": 0}


def test_undone_the_contact_is_due_again_and_the_file_can_come_again(nurse, procedure):
    kept = confirm(nurse, send(nurse, CELLS))
    import_undo(kept=kept, user=nurse, reason="wrong clinic", seen=undo_plan(kept).seal)
    due = contact(procedure)
    assert (due.held_on, due.recorded_by, due.mode, values(due)) == (None, None, "", {})
    assert due_reviews(site=nurse.site, on=TODAY).filter(pk=due.pk).exists()
    assert verdict(nurse, CELLS).kind == "known"
    confirm(nurse, send(nurse, CELLS))
    assert values(contact(procedure))["pain_now"] == 3


def test_undone_a_contact_that_somebody_amended_since_is_left(nurse, procedure):
    kept = confirm(nurse, send(nurse, CELLS))
    score = contact(procedure).scores.get(instrument="pain_now")
    with acting(nurse, "Contact amended"):
        score.value = 4
        update_row(score, expected_version=score.version, fields=["value"])
    plan = undo_plan(kept)
    assert not plan.does_something
    assert "changed it on" in plan.left["score", score.pk]


def test_a_changed_value_comes_back_when_the_second_file_is_undone(nurse, procedure):
    confirm(nurse, send(nurse, CELLS))
    row = changed(Pain_now="2", Pain_on_movement="6")
    kept = send(nurse, row, names=row)
    seen = look(kept).verdicts[0]
    assert (seen.kind, seen.notes) == (
        "changed",
        ("Pain now: 3 → 2", "Pain on movement: not recorded → 6"),
    )
    kept = confirm(nurse, kept)
    assert (values(contact(procedure))["pain_now"], values(contact(procedure))["pain_moving"]) == (
        2,
        6,
    )
    import_undo(kept=kept, user=nurse, reason="typing slip", seen=undo_plan(kept).seal)
    assert values(contact(procedure))["pain_now"] == 3
    assert "pain_moving" not in values(contact(procedure))


def test_what_a_person_recorded_is_for_a_person_and_a_blank_takes_nothing_away(nurse, procedure):
    by_hand(nurse, contact(procedure), pain_now=3, pain_worst=5, pain_moving=7)
    told = verdict(nurse, changed(How="clinic", Pain_now="2"))
    assert told.kind == "conflict"
    assert told.reasons[0] == "Pain now: the file says 2, a person recorded 3."
    row = {**CELLS, "How": "", "Warning signs": ""}
    filled = verdict(nurse, row)
    assert filled.kind == "changed"
    assert [note.split(":")[0] for note in filled.notes] == ["Analgesic step", "Mobility", "Falls"]
    confirm(nurse, send(nurse, row))
    held = contact(procedure)
    assert (held.mode, values(held)["pain_moving"]) == ("clinic", 7)


def test_a_contact_held_on_another_day_is_for_a_person(nurse, procedure):
    by_hand(nurse, contact(procedure), held_on=date(2027, 2, 20), pain_now=3)
    told = verdict(nurse, CELLS)
    assert told.kind == "conflict"
    assert "is recorded as held on 20 Feb 2027, the row says 01 Mar 2027" in told.reasons[0]


def test_a_day_between_two_windows_asks_for_the_time_point(nurse, procedure):
    seen = verdict(nurse, changed(Contact_date="24 Jan 2027"))
    assert "lies in no window" in seen.reasons[0]
    named = verdict(nurse, changed(Contact_date="24 Jan 2027", Time_point="3 months"))
    assert named.kind == "known"
    assert named.notes[0].endswith("held early.")


def test_a_contact_that_the_protocol_knows_and_does_not_ask_for_is_made(nurse, procedure):
    row = changed(Contact_date="01 Jan 2027")  # day 42
    kept = send(nurse, row)
    assert look(kept).verdicts[0].notes[0].startswith("“6 weeks” after")
    kept = confirm(nurse, kept)
    made = contact(procedure, "weeks_6")
    assert (made.opens_on, made.held_on) == (OPERATED + timedelta(days=35), date(2027, 1, 1))
    assert made.recorded_by == nurse
    assert verdict(nurse, row).kind == "same"
    import_undo(kept=kept, user=nurse, reason="wrong clinic", seen=undo_plan(kept).seal)
    assert not procedure.reviews.live().filter(timepoint="weeks_6").exists()


def test_of_two_treatments_the_row_says_which(nurse, patient, procedure):
    operated(nurse, patient, date(2027, 2, 27), level="T12")
    told = verdict(nurse, CELLS)
    assert told.kind == "conflict"
    assert (
        "“3 months” after balloon tamping 2026, L1, of 20 Nov 2026; or “day 1” after"
        in (told.reasons[0])
    )
    assert verdict(nurse, changed(Time_point="3 months")).kind == "known"
    for more in ({"Treatment_date": "27 Feb 2027"}, {"Levels": "T12"}):
        assert verdict(nurse, changed(**more)).notes[0].startswith("“day 1” after")
    assert "fits 01 Feb 2027" in verdict(nurse, changed(Treatment_date="01 Feb 2027")).reasons[0]


def test_conservative_care_is_followed_from_its_decision(nurse, patient):
    with acting("test"):
        fracture = make_fracture(make_referral(patient, pain_moving=None))
        scheduled(patient, OPERATED, fracture=fracture)
    kept = send(nurse, CELLS)
    assert "after conservative care, L1, of 20 Nov 2026" in look(kept).verdicts[0].notes[0]
    confirm(nurse, kept)
    held = Review.objects.live().get(fracture=fracture, timepoint="months_3")
    assert held.scores.live().count() == 5


def test_once_treated_a_fracture_is_followed_from_the_procedure(nurse, patient, procedure):
    """Four weeks of conservative care went before; its 6 months are no contact any more."""
    decided_on = OPERATED - timedelta(days=28)
    fracture = procedure.levels.get().fracture
    with acting("test"):
        scheduled(patient, decided_on, fracture=fracture)
        later = fracture.reviews.filter(target_on__gte=OPERATED)
        later.update(voided_at="2026-11-20T12:00Z", void_reason="Treated")
    row = changed(Contact_date="10 Apr 2027")  # day 169 of the decision, day 141 of the procedure
    at_six_months = verdict_on(date(2027, 4, 10), nurse, row)
    assert "lies in no window" in at_six_months.reasons[0]
    assert verdict(nurse, CELLS).notes[0].startswith("“3 months” after balloon tamping")


def verdict_on(today, nurse, row):
    kept = writing.import_keep(
        site=nurse.site, user=nurse, file_name="clinic.csv", content=written([row], names=row),
        date_order="dmy", kind="scores", today=today,
    )  # fmt: skip
    return preview_of(kept, today=today).verdicts[0]


FOR_A_PERSON = [
    (changed(Hospital_number="H9", NHS_Number=""), "knows no patient with this number"),
    (changed(Date_of_birth="12 May 1942"), "the register 11 May 1942"),
    (changed(Family_name="Ashbeck"), "the file says Ashbeck, the register Zoëbeck"),
    (changed(Time_point="3 years"), "Write one of these: before; 2 to 4 weeks; 3 months"),
    (changed(Time_point="12 months"), "lies in the window of “3 months”"),
    (changed(Time_point="3 months", Contact_date="01 Nov 2026"), "Correct the time point"),
    (changed(Time_point="before", Contact_date="24 Jan 2027"), "is after the procedure"),
    (changed(Falls="12"), "Falls since the last contact: 12 is unusual"),
    (changed(Worst_pain="2"), "say under “Why unlikely” why both are right"),
]


def test_a_row_that_cannot_be_placed_or_believed_is_for_a_person(nurse, procedure):
    for row, says in FOR_A_PERSON:
        told = verdict(nurse, row)
        assert (told.kind, says) == ("conflict", says)
        assert says in " ".join(told.reasons)


def test_an_unlikely_value_is_kept_with_its_reason(nurse, procedure):
    row = changed(Falls="12", Why_unlikely="falls out of bed every week")
    kept = send(nurse, row, names=row)
    confirm(nurse, kept)
    falls, pain = (Score.objects.get(instrument=code) for code in ("falls", "pain_now"))
    assert (falls.value, falls.unlikely_reason) == (12, "falls out of bed every week")
    assert pain.unlikely_reason == ""
    assert verdict(nurse, row).kind == "same"


def test_a_jump_is_measured_from_the_contact_before_also_within_the_file(nurse, procedure):
    early = changed(Contact_date="06 Dec 2026", Pain_now="10", Worst_pain="10")
    late, first = verdicts(nurse, CELLS, early)
    assert first.kind == "known"
    assert late.kind == "conflict"
    assert late.reasons[0].startswith("Pain now was 10 on 06 Dec 2026 and is now 3.")


def test_what_the_file_asks_of_a_value_is_what_the_page_asks(nurse, patient, procedure):
    confirm(nurse, send(nurse, changed(Contact_date="06 Dec 2026", Pain_now="9", Worst_pain="9")))
    page = review_entry(
        contact(procedure), protocol=values_in_force(site=nurse.site, on=TODAY), on=TODAY
    )
    assert page.previous == previous_scores(contact(procedure))
    assert page.previous["pain_now"].value == 9
    assert verdict(nurse, changed(Pain_now="4", Worst_pain="4")).kind == "known"
    assert verdict(nurse, changed(Pain_now="3", Worst_pain="4")).kind == "conflict"


def test_two_rows_of_one_contact_are_one_or_for_a_person(nurse, procedure):
    assert [v.kind for v in verdicts(nurse, CELLS, CELLS)] == ["known", "same"]
    both = verdicts(nurse, CELLS, changed(Contact_date="02 Mar 2027"))
    assert [v.kind for v in both] == ["conflict", "conflict"]
    assert "Rows 2, 3 tell of the same contact" in both[0].reasons[0]


def test_a_warning_sign_is_kept_with_who_was_told(nurse, procedure):
    row = changed(
        Warning_signs="fever", Told_whom="the registrar", Told_on="01 Mar 2027", Told_at="14:05"
    )
    confirm(nurse, send(nurse, row, names=row))
    held = contact(procedure)
    assert (held.red_flags, held.red_flags_told) == (["fever"], "the registrar")
    assert verdict(nurse, row).kind == "same"


def test_signs_taken_back_by_a_file_leave_nobody_who_was_told(nurse, procedure):
    row = changed(
        Warning_signs="fever", Told_whom="the registrar", Told_on="01 Mar 2027", Told_at="14:05"
    )
    confirm(nurse, send(nurse, row, names=row))
    kept = send(nurse, CELLS)
    assert look(kept).verdicts[0].notes == (
        "Warning signs: fever → asked, none of these",
        "Told whom: the registrar → not recorded",
        "Told at: 01 Mar 2027, 14:05 → not recorded",
    )
    confirm(nurse, kept)
    held = contact(procedure)
    assert held.red_flags == ["none"]
    assert (held.red_flags_told, held.red_flags_told_at) == ("", None)


def test_whom_a_person_named_as_told_no_file_takes_away(nurse, procedure):
    row = changed(
        Warning_signs="fever", Told_whom="the registrar", Told_on="01 Mar 2027", Told_at="14:05"
    )
    confirm(nurse, send(nurse, row, names=row))
    held = contact(procedure)
    with acting(nurse, "Contact amended"):
        held.red_flags_told = "the consultant"
        update_row(held, expected_version=held.version, fields=["red_flags_told"])
    told = verdict(nurse, CELLS)
    assert told.kind == "conflict"
    assert "a person recorded the consultant" in told.reasons[0]


def test_scores_alone_make_a_contact_another_version_also_when_undone(nurse, procedure):
    confirm(nurse, send(nurse, CELLS))
    assert contact(procedure).version == 2
    row = changed(Pain_now="2", Pain_on_movement="6")
    kept = confirm(nurse, send(nurse, row, names=row))
    assert contact(procedure).version == 3
    plan = undo_plan(kept)
    assert {model for model, _ in (*plan.voided, *(one.key for one in plan.restored))} == {"score"}
    import_undo(kept=kept, user=nurse, reason="typing slip", seen=plan.seal)
    assert contact(procedure).version == 4
    assert contact(procedure).held_on == date(2027, 3, 1)


def test_a_patient_without_treatment_has_no_contact(nurse, patient):
    assert "No contact is scheduled" in verdict(nurse, CELLS).reasons[0]


def test_nobody_of_another_site_is_meant(nurse, procedure):
    with acting("test"):
        stranger = make_user(make_site(), "nurse")
    assert "knows no patient" in verdict(stranger, CELLS).reasons[0]


def test_the_rows_cost_the_same_queries_however_many(
    nurse, procedure, django_assert_max_num_queries
):
    kept = send(nurse, CELLS)
    with django_assert_max_num_queries(14):
        look(kept)
    many = send(nurse, *[another(n) for n in range(40)])
    with django_assert_max_num_queries(14):
        look(many)


def test_the_command_takes_a_file_of_scores(nurse, procedure, tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("register.management.commands.import_file.localdate", lambda: TODAY)
    file = tmp_path / "clinic.csv"
    file.write_bytes(written([CELLS], names=CELLS))
    call_command("import_file", "scores", str(file), "--user", nurse.username, "--confirm")
    assert "1 new, patient known" in capsys.readouterr().out
    assert values(contact(procedure))["pain_now"] == Decimal(3)


def test_the_files_to_try_are_read_as_their_readme_says(nurse):
    with acting("test"):
        make_technique(nurse.site, route="balloon")
    folder = Path(settings.BASE_DIR) / "fixtures" / "scores"
    confirm(nurse, keep(nurse, (folder / "treated.csv").read_bytes(), "procedures"))
    kept = keep(nurse, (folder / "clinic.csv").read_bytes())
    letters = "".join(LETTERS[one.kind] for one in look(kept).verdicts)
    assert letters == "k" * 11 + "xxrxxx"
    confirm(nurse, kept)
    assert Review.objects.live().exclude(held_on=None).count() == 11
    assert (folder / "empty.csv").read_bytes() == empty_file(KINDS["scores"])
