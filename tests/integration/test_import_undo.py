"""Undoing an import: everything it wrote goes, what people did since stays."""

from datetime import date

import pytest
from django.apps import apps
from django.core.exceptions import ValidationError
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from register.history import acting
from register.models import (
    FileImport,
    Fracture,
    LaboratoryResult,
    Patient,
    PatientPhone,
    Referral,
    ReferralDrug,
    Site,
)
from register.models.base import Record
from register.selectors.import_undo import undo_plan
from register.selectors.imports import preview_of
from register.services import imports as writing
from register.services.editing import update_row
from register.services.import_undo import UndoOutdated, import_undo
from tests.factories import make_decision, make_patient, make_reading, make_site, make_user
from tests.referral_files import CELLS, TODAY, TRUTH, another, changed, written

pytestmark = pytest.mark.django_db
FULL = CELLS | {
    "Telephone": "01632 960123",
    "Blood thinners": "aspirin (stroke, older)",
    "INR": "1.1",
    "Blood test date": "03 Mar 2027",
}


@pytest.fixture
def nurse(db):
    with acting("test"):
        return make_user(make_site(), "nurse")


def sent(nurse, *rows, names=FULL) -> FileImport:
    """Send a file in and confirm it."""
    kept = writing.import_keep(
        site=nurse.site,
        user=nurse,
        file_name="referrals.csv",
        content=written(rows, names=names),
        date_order="dmy",
        today=TODAY,
    )
    seen = preview_of(kept, today=TODAY).seal
    return writing.import_confirm(kept=kept, user=nurse, seen=seen, today=TODAY)


def undo(nurse, kept: FileImport, reason: str = "Wrong week") -> FileImport:
    return import_undo(kept=kept, user=nurse, reason=reason, seen=undo_plan(kept).seal)


def register_now() -> dict[str, list]:
    """All live rows of all records but files, without the number of edits."""
    found = {}
    for model in apps.get_models():
        if not issubclass(model, Record) or model is FileImport:
            continue
        columns = [f.attname for f in model._meta.concrete_fields if f.name != "version"]
        rows = model._base_manager.filter(voided_at=None).order_by("pk")
        found[model.__name__] = [repr(row) for row in rows.values_list(*columns)]
    return found


def edit(nurse, row, **fields):
    row.refresh_from_db()
    with acting(nurse, "Corrected"):
        for name, value in fields.items():
            setattr(row, name, value)
        update_row(row, expected_version=row.version, fields=list(fields))


def test_undoing_leaves_the_register_as_it_was_and_says_who_and_why(nurse):
    before = register_now()
    kept = sent(nurse, FULL, another())
    assert Patient.objects.live().count() == 2
    kept = undo(nurse, kept)
    assert register_now() == before
    assert (kept.undone_by, kept.left_by_undo) == (nurse, [])
    assert kept.undone_at is not None
    reasons = set(Patient.objects.values_list("void_reason", flat=True))
    assert reasons == {f"Import undone: file {kept.pk}: Wrong week"}


def test_changed_rows_get_their_former_values_back(nurse):
    sent(nurse, CELLS, names=CELLS)
    before = register_now()
    cells = FULL | {"Pain on movement": "6", "Onset date": "Feb 2027", "Address": "2 Mill Lane"}
    kept = sent(nurse, cells, names=cells)
    assert kept.counts["changed"] == 1
    assert Referral.objects.get().pain_moving == 6
    assert (PatientPhone.objects.count(), ReferralDrug.objects.count()) == (1, 1)
    undo(nurse, kept)
    assert register_now() == before
    assert Referral.objects.get().version == 3


def test_the_same_file_comes_in_again_under_the_same_record(nurse):
    undo(nurse, sent(nurse, FULL))
    patient = Patient.objects.get()
    kept = sent(nurse, FULL)
    assert kept.counts["new"] == 1
    again = Patient.objects.live().get()
    assert (again.pk, again.void_reason) == (patient.pk, "")
    assert again.referrals.live().get().fractures.live().count() == 2
    assert again.phones.live().get().number == "01632 960123"
    undo(nurse, kept)
    assert Patient.objects.live().count() == 0
    assert sent(nurse, FULL).counts["new"] == 1


def test_two_rows_of_a_patient_who_is_taken_up_again(nurse):
    undo(nurse, sent(nurse, CELLS, names=CELLS))
    kept = sent(nurse, CELLS, changed(Referral_date="05 Mar 2027", Levels="L4"), names=CELLS)
    assert (kept.counts["new"], kept.counts["known"]) == (1, 1)
    assert Patient.objects.live().get().referrals.live().count() == 2


def test_somebody_else_does_not_get_the_record_of_an_undone_import(nurse):
    undo(nurse, sent(nurse, CELLS, names=CELLS))
    kept = writing.import_keep(
        site=nurse.site, user=nurse, file_name="x.csv", date_order="dmy", today=TODAY,
        content=written([changed(Given_name="Beryl", NHS_Number="")]),
    )  # fmt: skip
    assert preview_of(kept, today=TODAY).seal == "x"


def test_a_row_that_was_edited_since_is_left_with_what_it_belongs_to(nurse):
    kept = sent(nurse, FULL, another())
    edit(nurse, Fracture.objects.filter(level="T12").first(), tender=True)
    plan = undo_plan(kept)
    left = {model for model, _ in plan.left}
    assert left == {"fracture", "referral", "patient", "referraldrug", "patientphone"}
    assert f"{nurse.username} changed it on" in " ".join(plan.left.values())
    undo(nurse, kept)
    patient = Patient.objects.live().get()
    assert patient.hospital_number == TRUTH["hospital_number"]
    assert patient.referrals.live().get().fractures.live().count() == 2
    assert LaboratoryResult.objects.live().count() == 0
    kept.refresh_from_db()
    assert len(kept.left_by_undo) == len(plan.left) == 6


def test_a_changed_value_that_a_person_changed_since_stays(nurse):
    sent(nurse, CELLS, names=CELLS)
    kept = sent(nurse, changed(Pain_on_movement="6"), another(), names=CELLS)
    edit(nurse, Referral.objects.get(pain_moving=6), pain_moving=5)
    undo(nurse, kept)
    assert list(Referral.objects.live().values_list("pain_moving", flat=True)) == [5]


@pytest.mark.parametrize("attached", ["decision", "reading", "patient's new referral"])
def test_what_something_was_attached_to_is_left(nurse, attached):
    kept = sent(nurse, CELLS, another(), names=CELLS)
    fracture = Fracture.objects.filter(level="T12").order_by("pk").first()
    with acting("test"):
        if attached == "decision":
            make_decision(fracture, nurse)
        elif attached == "reading":
            make_reading(fracture, nurse)
        else:
            Referral.objects.create(patient=fracture.patient, referred_on=date(2027, 3, 6))
    plan = undo_plan(kept)
    words = " ".join(plan.left.values())
    assert attached.split()[-1] in words
    undo(nurse, kept)
    assert list(Patient.objects.live()) == [fracture.patient]


def test_what_hangs_on_a_row_and_was_set_aside_does_not_keep_it(nurse):
    kept = sent(nurse, CELLS, names=CELLS)
    with acting("test"):
        decision = make_decision(Fracture.objects.first(), nurse)
        decision.voided_at, decision.void_reason = "2027-03-07T10:00Z", "Entered twice"
        decision.save()
    assert undo_plan(kept).left == {}


def test_imports_undone_from_the_last_to_the_first(nurse):
    empty = register_now()
    first = sent(nurse, CELLS, names=CELLS)
    after_first = register_now()
    second = sent(nurse, changed(Pain_on_movement="6"), names=CELLS)
    assert undo_plan(first).left  # the second stands on it
    undo(nurse, second)
    assert register_now() == after_first
    undo(nurse, first)
    assert register_now() == empty


def test_an_undo_that_was_not_seen_like_this_does_nothing(nurse):
    kept = sent(nurse, CELLS, names=CELLS)
    seen = undo_plan(kept).seal
    edit(nurse, Patient.objects.get(), address="3 Mill Lane")
    before = register_now()
    with pytest.raises(UndoOutdated):
        import_undo(kept=kept, user=nurse, reason="Wrong week", seen=seen)
    assert register_now() == before
    assert FileImport.objects.get(pk=kept.pk).undone_at is None


def test_an_import_is_undone_once_and_with_a_reason(nurse):
    kept = sent(nurse, CELLS, names=CELLS)
    with pytest.raises(ValidationError, match="Say why"):
        undo(nurse, kept, "  ")
    undo(nurse, kept)
    with pytest.raises(writing.ImportRefused, match="undone already"):
        undo(nurse, kept)


def test_nothing_to_undo_is_told(nurse):
    kept = sent(nurse, CELLS, names=CELLS)
    edit(nurse, Referral.objects.get(), pain_moving=5)
    edit(nurse, Patient.objects.get(), address="3 Mill Lane")
    with pytest.raises(writing.ImportRefused, match="Every row of this import is left"):
        undo(nurse, kept)


# --- any file, on any register: importing and undoing changes nothing ------------------

PEOPLE = [
    CELLS,
    another(),
    another(Hospital_number="H3", NHS_Number="", Family_name="Hasklade"),
]
CELL_CHANGES = st.fixed_dictionaries(
    {},
    optional={
        "Pain on movement": st.sampled_from(["", "3", "not known"]),
        "Onset date": st.sampled_from(["", "Feb 2027", "01 Feb 2027", "not known"]),
        "Address": st.sampled_from(["", "1 Mill Lane", "2 Mill Lane"]),
        "Telephone": st.sampled_from(["", "01632 960123", "07700 900311"]),
        "Blood thinners": st.sampled_from(["", "none", "aspirin (stroke, older)"]),
        "INR": st.sampled_from(["", "1.1", "1.4"]),
        "Levels": st.sampled_from(["T12 L1", "L1", "L4"]),
        "Referral date": st.sampled_from(["04 Mar 2027", "05 Mar 2027"]),
        "Tender": st.sampled_from(["", "yes", "not done"]),
    },
)
ROWS = st.lists(
    st.builds(lambda who, cells: who | cells, st.sampled_from(PEOPLE), CELL_CHANGES),
    min_size=1,
    max_size=4,
)
NAMES = [*FULL, "Address", "Tender"]


@given(files=st.lists(ROWS, min_size=1, max_size=3))
@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_importing_and_undoing_changes_nothing(nurse, files):
    """All files but the last stay; the last is undone, and nothing is left of it."""
    with acting("test"):
        nurse.site = Site.objects.create(name=f"S{Site.objects.count()}", code=f"s{_next()}")
        nurse.save()
        make_patient(nurse.site, hospital_number="H3", nhs_number="", family_name="Hasklade")
    for rows in files:
        before = register_now()
        blood = [row | {"Blood test date": "03 Mar 2027"} for row in rows]
        try:
            kept = sent(nurse, *blood, names=NAMES)
        except writing.ImportRefused as refused:
            assert "nothing to write" in str(refused)  # noqa: PT017 -- the only refusal there is
            kept = None
    if kept is not None:
        assert undo(nurse, kept).left_by_undo == []
        assert register_now() == before


def _next(numbers=iter(range(1_000_000))) -> int:  # noqa: B008 -- one counter for all examples
    return next(numbers)
