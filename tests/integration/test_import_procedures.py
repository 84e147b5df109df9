"""Lists of earlier procedures against the register: written, twice, changed, undone, audited."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext

from register.domain.days import day_words
from register.domain.protocol import shipped
from register.domain.timepoints import schedule
from register.history import acting
from register.models import (
    CementUse,
    Complication,
    Fracture,
    Leak,
    Patient,
    Procedure,
    Referral,
    Review,
    TreatedLevel,
)
from register.selectors.courses import courses_of
from register.selectors.import_provenance import file_that_brought
from register.selectors.import_undo import undo_plan
from register.selectors.imports import preview_of
from register.selectors.outcomes import due_reviews
from register.services import imports as writing
from register.services.editing import update_row
from register.services.import_undo import import_undo
from register.services.procedures import complication_add, leak_add, level_change
from reports.audits.fetch import fetch
from reports.audits.quarter import build
from reports.audits.spec import Spec
from tests.factories import (
    make_fracture,
    make_patient,
    make_referral,
    make_site,
    make_technique,
    make_user,
)
from tests.integration.import_steps import rows_of_all_tables
from tests.procedure_lists import BARE, CELLS, NHS, TODAY, another, listed, row
from tests.referral_files import changed, written

pytestmark = pytest.mark.django_db
ONSET, REFERRED = date(2025, 2, 12), date(2025, 3, 2)


@pytest.fixture
def nurse(db):
    with acting("test"):
        nurse = make_user(make_site(), "nurse")
        make_technique(nurse.site, name="Balloon tamping", route="balloon")
        make_technique(nurse.site, name="Cement alone", route="cement")
    return nurse


def keep(nurse, *rows):
    return writing.import_keep(
        site=nurse.site, user=nurse, file_name="old_list.csv", content=listed(*rows),
        kind="procedures", date_order="dmy", today=TODAY,
    )  # fmt: skip


def look(nurse, *rows):
    return preview_of(keep(nurse, *rows), today=TODAY).verdicts


def sent(nurse, *rows):
    """Send a list in and confirm it."""
    kept = keep(nurse, *rows)
    seen = preview_of(kept, today=TODAY).seal
    return writing.import_confirm(kept=kept, user=nurse, seen=seen, today=TODAY)


def undo(nurse, kept):
    return import_undo(kept=kept, user=nurse, reason="Wrong list", seen=undo_plan(kept).seal)


def edit(nurse, record, **fields):
    record.refresh_from_db()
    with acting(nurse, "Corrected"):
        for name, value in fields.items():
            setattr(record, name, value)
        update_row(record, expected_version=record.version, fields=list(fields))


def test_a_full_row_becomes_a_whole_record(nurse):
    kept = sent(nurse, CELLS)
    assert kept.counts["new"] == 1
    done = Procedure.objects.get()
    assert (done.state, done.operated_by, done.signed_by) == ("earlier", "R. Inkpen", None)
    assert (done.performed_on, str(done.technique)) == (date(2025, 3, 14), "Balloon tamping")
    assert (done.dose_area_gy_cm2, done.fluoroscopy_s) == (Decimal("12.5"), 95)
    assert Referral.objects.values_list("referred_on", "state").get() == (REFERRED, "closed")
    fractures = Fracture.objects.order_by("level").values_list("level", "state", "onset_on")
    assert list(fractures) == [("L1", "treated", ONSET), ("T12", "treated", ONSET)]
    t12, l1 = done.levels.order_by("pk")
    assert (t12.side, t12.leak_check, t12.leak_checked_on) == ("left", "leak", "fluoroscopy")
    assert (l1.side, l1.leak_check, l1.leaks.count()) == ("both", "no_leak", 0)
    assert list(t12.leaks.values_list("place", "route", "consequence")) == [
        ("epidural", "basivertebral", "none"), ("upper_disc", "", "none"),
    ]  # fmt: skip
    assert list(CementUse.objects.values_list("side", "volume_ml")) == [
        ("", Decimal("4.5")), ("", Decimal("3.0")),
    ]  # fmt: skip
    assert Complication.objects.get().occurred_on == date(2025, 3, 20)
    assert file_that_brought(done) == kept


def test_a_bare_row_leaves_everything_else_not_recorded(nurse):
    sent(nurse, BARE)
    done = Procedure.objects.get()
    assert (done.complication_check, done.operated_by, done.absent) == ("", "not recorded", {})
    assert set(done.levels.values_list("leak_check", "side")) == {("", "")}
    parts = (Referral, CementUse, Leak, Complication)
    assert [kind.objects.count() for kind in parts] == [0, 0, 0, 0]
    assert Fracture.objects.filter(onset_on=None, referral=None, state="treated").count() == 2


def test_the_same_list_twice_changes_nothing(nurse):
    later = row(BARE, NHS_Number=NHS, Sex="female", Procedure_date="01 Jun 2025", Levels="L3")
    rows = (CELLS, another(), later)
    assert sent(nurse, *rows).counts["known"] == 1
    before = rows_of_all_tables()
    assert [verdict.kind.value for verdict in look(nurse, *rows)] == ["same"] * 3
    with pytest.raises(writing.ImportRefused, match="nothing to write"):
        sent(nurse, *rows)
    after = rows_of_all_tables()
    kept = {"register.FileImport"}
    assert {k: n for k, n in after.items() if k not in kept} == {
        k: n for k, n in before.items() if k not in kept
    }


def test_blank_never_overwrites_and_a_fuller_list_fills(nurse):
    sent(nurse, BARE)
    sent(nurse, CELLS)
    done = Procedure.objects.get()
    assert (done.anaesthesia, done.complication_check) == ("sedation", "some")
    assert (Leak.objects.count(), CementUse.objects.count()) == (2, 2)
    assert set(Fracture.objects.values_list("onset_on", flat=True)) == {ONSET}
    assert [v.kind.value for v in look(nurse, BARE)] == ["same"]
    assert [v.kind.value for v in look(nurse, CELLS)] == ["same"]


def test_another_value_changes_what_a_list_said_and_not_what_a_person_did(nurse):
    sent(nurse, CELLS)
    sent(nurse, row(Anaesthesia="general anaesthesia", Cement_mL="T12 5.0; L1 3.0"))
    assert Procedure.objects.get().anaesthesia == "general"
    assert CementUse.objects.filter(volume_ml=5).count() == 1
    edit(nurse, Procedure.objects.get(), anaesthesia="local")
    [verdict] = look(nurse, CELLS)
    assert verdict.kind.value == "conflict"
    assert "a person recorded local anaesthesia" in verdict.reasons[0]
    [verdict] = look(nurse, row(Anaesthesia="", Leaks="T12 anterior; L1 none"))
    assert "T12, Leaks: the file says anterior, recorded is epidural" in verdict.reasons[0]


def test_the_reason_of_an_unlikely_number_is_kept_with_it(nurse):
    why = "Long fixation the same day"
    sent(nurse, row(CELLS, Fluoroscopy_s="2000", Why_unlikely=why))
    assert Procedure.objects.get().unusual == {"fluoroscopy_s": why}
    sent(nurse, row(CELLS, Fluoroscopy_s="2000", Cement_mL="T12 8.0; L1 3.0", Why_unlikely="Told"))
    assert CementUse.objects.get(volume_ml=8).unusual == {"volume_ml": "Told"}
    assert Procedure.objects.get().unusual == {"fluoroscopy_s": why}


def test_two_techniques_of_one_day_are_two_procedures_at_levels_of_their_own(nurse):
    sent(nurse, BARE, row(BARE, Technique="Cement alone", Levels="L2"))
    assert Procedure.objects.count() == 2
    assert sorted(Fracture.objects.values_list("level", flat=True)) == ["L1", "L2", "T12"]


def test_a_fracture_that_was_treated_twice_is_one(nurse):
    cells = row(BARE, Levels="T12", Onset_date="12 Feb 2025", Cause="tumour")
    rows = cells, row(cells, Procedure_date="01 Jun 2025", Cause="")
    sent(nurse, *rows)
    assert Fracture.objects.values_list("level", "cause").get() == ("T12", "tumour")
    assert TreatedLevel.objects.filter(fracture=Fracture.objects.get()).count() == 2
    assert [v.kind.value for v in look(nurse, *rows)] == ["same"] * 2


def test_two_rows_fill_the_fracture_that_they_share(nurse):
    cells = row(BARE, Levels="T12", Onset_date="12 Feb 2025")
    later = row(cells, Procedure_date="01 Jun 2025")
    sent(nurse, cells, later)
    sent(nurse, row(cells, Cause="tumour"), row(later, Cause="tumour", Operator="R. Inkpen"))
    assert Fracture.objects.get().cause == "tumour"


def test_grade_and_consequence_are_filled_and_taken_back(nurse):
    bare = row(Complications="infection (20 Mar 2025)", Leak_consequence="")
    sent(nurse, bare)
    kept = sent(nurse, CELLS)
    assert kept.counts["changed"] == 1
    assert (Complication.objects.get().grade, Leak.objects.count()) == ("II", 2)
    assert set(Leak.objects.values_list("consequence", flat=True)) == {"none"}
    assert [v.kind.value for v in look(nurse, CELLS)] == ["same"]
    undo(nurse, kept)
    assert Complication.objects.live().get().grade == ""
    assert set(Leak.objects.live().values_list("consequence", flat=True)) == {""}


def test_a_death_before_a_contact_that_was_held_is_for_a_person(nurse):
    sent(nurse, CELLS)
    review = Review.objects.order_by("target_on").last()
    with acting(nurse, "Contact held"):
        Review.objects.filter(pk=review.pk).update(held_on=date(2026, 3, 14), recorded_by=nurse)
    [verdict] = look(nurse, row(Date_of_death="13 Mar 2026"))
    assert "A contact of 14 Mar 2026 is recorded" in verdict.reasons[0]
    assert [v.kind.value for v in look(nurse, row(Date_of_death="14 Mar 2026"))] == ["changed"]


def test_a_waiting_fracture_that_was_treated_waits_no_longer_until_undone(nurse):
    names = ("hospital_number", "family_name", "given_name", "date_of_birth")
    cells = ("Oatfell", "Ida", date(1942, 5, 11))
    with acting("test"):
        who = dict(zip(names, ("H00204711", *cells), strict=True))
        patient = make_patient(nurse.site, nhs_number=NHS, **who)
        referral = make_referral(patient, referred_on=REFERRED, onset_on=ONSET)
        waiting = make_fracture(referral, level="T12")
    kept = sent(nurse, CELLS)
    waiting.refresh_from_db()
    assert (kept.counts["known"], waiting.state) == (1, "treated")
    assert Fracture.objects.get(level="L1").referral == referral
    undo(nurse, kept)
    waiting.refresh_from_db()
    assert (waiting.state, waiting.voided_at) == ("waiting", None)
    assert Patient.objects.live().get() == patient
    for kind in (Procedure, TreatedLevel, Leak, CementUse, Complication, Review):
        assert not kind.objects.live().exists()


def test_a_recorded_no_of_a_list_becomes_a_yes_only_with_a_reason(nurse):
    none = row(BARE, Levels="T12", Leaks="none", Leaks_looked_for_on="film", Complications="none")
    sent(nurse, none, another(Levels="L2"))
    done, gap = Procedure.objects.order_by("pk")
    trouble = {"kind": "infection", "occurred_on": done.performed_on, "user": nurse}
    seen = {"place": "epidural", "seen_on": "ct", "user": nurse}
    for add, fields in (
        (lambda **f: complication_add(procedure=done, **f), trouble),
        (lambda **f: leak_add(level=done.levels.get(), **f), seen),
        (lambda **f: level_change(level=done.levels.get(), expected_version=1, **f),
         {"leak_check": "leak", "user": nurse}),
    ):  # fmt: skip
        with pytest.raises(ValidationError, match="Say why it is changed"):
            add(**fields)
    complication_add(procedure=done, reason="Told by the ward", **trouble)
    leak_add(level=done.levels.get(), reason="Seen on CT", **seen)
    complication_add(procedure=gap, **trouble)
    leak_add(level=gap.levels.get(), **seen)
    level = gap.levels.get()
    level_change(level=level, expected_version=level.version, side="left", user=nurse)


def test_undoing_leaves_a_procedure_whole_when_somebody_went_on_with_it(nurse):
    kept = sent(nurse, CELLS, another())
    edit(nurse, TreatedLevel.objects.filter(side="left").get(), approach="extrapedicular")
    plan = undo_plan(kept)
    models = {model for model, _ in plan.left}
    assert models == {
        "patient", "referral", "fracture", "procedure", "treatedlevel", "cementuse", "leak",
        "complication", "review",
    }  # fmt: skip
    undo(nurse, kept)
    done = Procedure.objects.live().get()
    assert done.reviews.live().count() == done.reviews.count() > 0
    assert Patient.objects.live().get() == done.patient


def test_a_list_comes_in_again_after_its_undo(nurse):
    undo(nurse, sent(nurse, CELLS))
    patient = Patient.objects.get()
    assert sent(nurse, row(Date_of_death="01 Jun 2026")).counts["new"] == 1
    patient.refresh_from_db()
    assert (patient.voided_at, patient.date_of_death) == (None, date(2026, 6, 1))
    assert Procedure.objects.live().get().patient == patient


def test_a_referral_takes_up_nothing_that_an_undone_list_said(nurse):
    undo(nurse, sent(nurse, row(Date_of_death="01 Jun 2026")))
    who = {"Hospital_number": CELLS["Hospital number"], "NHS_Number": NHS}
    file = written([changed(Family_name="Oatfell", Given_name="Ida", **who)])
    kept = writing.import_keep(
        site=nurse.site, user=nurse, file_name="week.csv", content=file, date_order="dmy",
        today=TODAY,
    )  # fmt: skip
    seen = preview_of(kept, today=TODAY).seal
    writing.import_confirm(kept=kept, user=nurse, seen=seen, today=TODAY)
    patient = Patient.objects.live().get()
    assert (patient.date_of_death, patient.sex) == (None, "")


def test_it_is_counted_in_the_audit_of_its_quarter(nurse):
    sent(nurse, CELLS, another())
    last = date(2025, 3, 31)
    spec = Spec("Harrowmere", date(2025, 1, 1), last, TODAY, shipped(last))
    report = build(spec, fetch(nurse.site, spec))
    told = " ".join(report.document.sections[0].sentences).replace("\N{NO-BREAK SPACE}", " ")
    assert "2 procedures in the quarter, on 2 patients and 4 levels." in told
    assert "2 procedures of the quarter come from a list of earlier procedures." in told
    assert "not signed" not in told


def test_contacts_whose_window_closed_before_are_on_nobodys_list(nurse):
    sent(nurse, CELLS, another(Procedure_date=day_words(TODAY - timedelta(days=20))))
    with acting("test"):
        Review.objects.update(created_at="2027-03-07T10:00Z")
    old, new = Procedure.objects.order_by("performed_on")
    asked = len(schedule(old.performed_on, shipped(old.performed_on).timepoints))
    assert (old.reviews.count(), new.reviews.count()) == (asked, asked)
    due = due_reviews(site=nurse.site, on=TODAY)
    for review in due:
        assert review.closes_on >= TODAY, "closed before the list was entered"
    assert due.filter(procedure=new).exists()
    [course] = courses_of(old.patient, protocol=shipped(TODAY), on=TODAY)
    words = str(course.contacts)
    assert "not recorded, window closed before the list was entered" in words
    assert "not held, window closed" not in words


@pytest.mark.parametrize(("days_before", "is_due"), [(0, True), (1, False)])
def test_a_contact_that_closes_on_the_day_of_entry_can_still_be_held(nurse, days_before, is_due):
    sent(nurse, BARE)
    review = Review.objects.order_by("target_on").last()
    with acting("test"):
        Review.objects.filter(pk=review.pk).update(
            created_at="2027-03-07T10:00Z",
            opens_on=TODAY - timedelta(days=30),
            target_on=TODAY - timedelta(days=10),
            closes_on=TODAY - timedelta(days=days_before),
        )
    review.refresh_from_db()
    assert review.closed_before_entry is not is_due
    assert due_reviews(site=nurse.site, on=TODAY).filter(pk=review.pk).exists() is is_due


def test_judging_takes_the_same_number_of_queries_for_one_row_and_for_twenty(nurse):
    many = [another(Hospital_number=f"H9{n}", Given_name=f"Ann{n}x") for n in range(20)]
    sent(nurse, CELLS, *many)
    counted = []
    for rows in ([CELLS], [CELLS, *many]):
        kept = keep(nurse, *rows)
        with CaptureQueriesContext(connection) as queries:
            preview_of(kept, today=TODAY)
        counted.append(len(queries))
    assert counted[0] == counted[1]
