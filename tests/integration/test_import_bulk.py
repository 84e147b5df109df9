"""What a file writes is written in bulk, and differs in no way from what is saved one by one."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from django.db import IntegrityError, InternalError, ProgrammingError, connection
from django.test.utils import CaptureQueriesContext

from register.history import acting
from register.history.reading import changes_of_row
from register.imports.verdicts import Edit
from register.models import Fracture, Patient, PatientPhone, Referral, Site
from register.selectors.import_progress import Progress, progress_of
from register.services import import_confirm as confirming
from register.services import import_writing
from register.services import imports as writing
from register.services.bulk_copy import refused_place, rows_copy
from register.services.bulk_edit import rows_edit
from register.services.import_progress import progress_told
from tests.factories import make_patient, make_referral, make_site, make_user
from tests.integration.import_steps import confirm, keep, look, rows_of_all_tables
from tests.referral_files import CELLS, TODAY, another, written

pytestmark = pytest.mark.django_db
AWKWARD = (
    "", "\\N", "NULL", "\t", "one\ntwo\r\nthree", 'a "quoted", word', "back\\slash", "{1,2}",
    "'; DROP", "Zoë-Łukasz 老人 🦴", "\\.", " blank ",
)  # fmt: skip


@pytest.fixture
def nurse(db):
    with acting("test"):
        return make_user(make_site(), "nurse")


def referrals_of(site: Site) -> list[Patient | Referral | Fracture]:
    """Return unsaved rows with everything that a column can hold."""
    rows: list[Patient | Referral | Fracture] = []
    for number, text in enumerate(AWKWARD):
        patient = Patient(
            site=site,
            hospital_number=f"B{number}",
            family_name=text,
            given_name="Maud",
            date_of_birth=date(1942, 5, 14 + number),
            address=text,
            interpreter_needed=(None, True, False)[number % 3],
            unusual={"address": text},
        )
        referral = Referral(
            patient=patient,
            referred_on=date(2027, 3, 4),
            note=text,
            pain_moving=(None, 0, 8)[number % 3],
            weight_kg=(None, Decimal("61.5"), Decimal("20"))[number % 3],
            failure_criteria=([], ["none"], ["not_walking", "no_physiotherapy"])[number % 3],
            absent={} if number % 2 else {"allergies": "declined"},
        )
        rows += [patient, referral, Fracture(patient=patient, referral=referral, level="T12")]
    return rows


def stored(site: Site) -> list[dict[str, object]]:
    """Return all that a site's rows hold, without what no two rows have in common."""
    own = {"id", "created_at", "site_id", "patient_id", "referral_id"}
    found = []
    for kind, path in ((Patient, "site"), (Referral, "patient__site"), (Fracture, "patient__site")):
        for row in kind.objects.filter(**{path: site}).order_by("pk").values():
            found.append({name: value for name, value in row.items() if name not in own})
    return found


def by_kind(rows):
    return [[row for row in rows if type(row) is kind] for kind in (Patient, Referral, Fracture)]


def test_copied_rows_are_the_rows_that_an_insert_makes_field_by_field():
    with acting("test", "Copied"):
        inserted, copied = make_site(), make_site()
        for rows in by_kind(referrals_of(inserted)):
            type(rows[0]).objects.bulk_create(rows)
        rows = referrals_of(copied)
        for of_kind in by_kind(rows):
            rows_copy(type(of_kind[0]), of_kind)
    assert len(stored(copied)) == 3 * len(AWKWARD)
    assert stored(copied) == stored(inserted)
    for row in rows:  # what is in memory is what is stored, links and numbers included
        assert type(row).objects.filter(pk=row.pk, created_at=row.created_at).exists()
    fracture = Fracture.objects.filter(patient__site=copied).first()
    assert fracture.referral.patient == fracture.patient
    later = make_patient_in(copied)
    assert later.pk > max(row.pk for row in rows if isinstance(row, Patient))


def make_patient_in(site: Site) -> Patient:
    with acting("test"):
        return make_patient(site)


def test_each_copied_row_has_its_history_with_name_and_reason(nurse):
    with acting(nurse, "Copied"):
        rows = referrals_of(nurse.site)
        for of_kind in by_kind(rows):
            rows_copy(type(of_kind[0]), of_kind)
    for row in rows:
        (change,) = changes_of_row(row)
        assert (change.operation, change.actor, change.reason, change.old) == (
            "INSERT", nurse.username, "Copied", None,
        )  # fmt: skip
        assert change.new["id"] == row.pk
        assert change.new.get("note", row.__dict__.get("note")) == row.__dict__.get("note")


def test_nothing_is_copied_to_a_record_set_aside(nurse):
    with acting("test"):
        gone = make_patient(nurse.site, voided_at="2027-01-01T00:00Z", void_reason="twice")
    phone = PatientPhone(patient=gone, number="01632 960001")
    with pytest.raises(IntegrityError, match="set aside"), acting("test"):
        rows_copy(PatientPhone, [phone])


def test_nobody_copies_without_a_name(nurse):
    with connection.cursor() as cursor:
        cursor.execute("SELECT set_config('app.actor', '', true)")
    patient = next(row for row in referrals_of(nurse.site) if isinstance(row, Patient))
    with pytest.raises((ProgrammingError, InternalError), match="needs an actor"):
        rows_copy(Patient, [patient])


def test_a_refused_copy_says_which_row_it_was(nurse):
    rows = [
        PatientPhone(patient=make_patient_in(nurse.site), number="01632 960001", kind=kind)
        for kind in ("home", "", "pigeon")
    ]
    with pytest.raises(IntegrityError) as refused, acting("test"):
        rows_copy(PatientPhone, rows)
    assert refused_place(refused.value) == 2


def test_a_row_that_only_the_table_refuses_is_named_and_nothing_is_written(nurse, monkeypatch):
    kept = keep(nurse, written([CELLS, another()]))
    preview = look(kept)
    preview.verdicts[1].row.referral["onset_on"] = date(2027, 3, 6)  # after the referral
    before = rows_of_all_tables()
    monkeypatch.setattr(confirming, "preview_of", lambda kept, *, today: preview)
    with pytest.raises(writing.ImportRefused, match=r"Row 3: The referral is dated before"):
        confirm(nurse, kept, preview.seal)
    assert rows_of_all_tables() == before


# --- changing many rows ------------------------------------------------------------------


def test_an_edit_sets_what_it_names_and_leaves_the_rest(nurse):
    with acting("test"):
        patient = make_patient(nurse.site)
        one, two = (
            make_referral(patient, note="as it was", pain_rest=3, failure_criteria=["none"])
            for _ in range(2)
        )
    values = {
        "note": 'a "note"\nof two lines', "pain_rest": None, "weight_kg": Decimal("61.5"),
        "failure_criteria": ["not_walking", "no_physiotherapy"], "onset_on": date(2027, 1, 2),
        "absent": {"pain_rest": "declined"}, "is_inpatient": True,
    }  # fmt: skip
    edits = [Edit("referral", one.pk, 1, values), Edit("referral", two.pk, 1, {"pain_rest": 4})]
    with acting(nurse, "Edited"):
        assert rows_edit(Referral, edits)
    one.refresh_from_db()
    two.refresh_from_db()
    assert {name: getattr(one, name) for name in values} == values
    assert (one.version, two.version) == (2, 2)
    assert (two.pain_rest, two.note, two.failure_criteria) == (4, "as it was", ["none"])
    change = changes_of_row(two)[-1]
    assert (change.actor, change.reason) == (nurse.username, "Edited")
    assert change.fields == {"pain_rest": (3, 4), "version": (1, 2)}


@pytest.mark.parametrize("version", [0, 2])
def test_a_row_in_another_version_is_not_edited(nurse, version):
    with acting("test"):
        rows = [make_referral(make_patient(nurse.site), pain_rest=3) for _ in range(2)]
    edits = [Edit("referral", row.pk, 1, {"pain_rest": 4}) for row in rows]
    edits[1] = replace(edits[1], version=version)
    with acting("test"):
        assert not rows_edit(Referral, edits)


def test_two_edits_of_one_row_are_not_both_taken(nurse):
    with acting("test"):
        row = make_referral(make_patient(nurse.site), pain_rest=3)
        assert not rows_edit(
            Referral, [Edit("referral", row.pk, 1, {"pain_rest": n}) for n in (4, 5)]
        )


# --- how many statements, and how far it has come ------------------------------------------


def many(rows: int, **cells: str) -> bytes:
    return written(
        [
            another(Hospital_number=f"Q{n}", NHS_Number="", Given_name=f"Ann{n}") | cells
            for n in range(rows)
        ],
        names=[*CELLS, *(name for name in cells if name not in CELLS)],
    )


def statements(nurse, content: bytes) -> int:
    kept = keep(nurse, content)
    seen = look(kept).seal
    with CaptureQueriesContext(connection) as counted:
        confirm(nurse, kept, seen)
    return len(counted)


def test_a_confirmation_takes_as_many_statements_for_three_as_for_sixty_rows(db):
    new, changed = [], []
    for rows in (3, 60):
        with acting("test"):
            nurse = make_user(make_site(), "nurse")
        new.append(statements(nurse, many(rows)))
        changed.append(statements(nurse, many(rows, **{"Weight kg": "61.5"})))
    assert Referral.objects.filter(weight_kg=Decimal("61.5"), version=2).count() == 63
    assert new[0] == new[1]
    assert changed[0] == changed[1]


def test_progress_is_told_batch_by_batch_and_ends_with_the_whole(nurse, monkeypatch):
    monkeypatch.setattr(import_writing, "BATCH", 2)
    kept, told = keep(nurse, many(3)), []
    writing.import_confirm(
        kept=kept, user=nurse, seen=look(kept).seal, today=TODAY, say=lambda *now: told.append(now)
    )
    # Three patients, three referrals, six levels, two at a time.
    assert told == [(n, 12) for n in (0, 2, 3, 5, 6, 8, 10, 12)]


def test_any_connection_reads_how_far_it_has_come(nurse):
    kept = keep(nurse, many(1))
    with progress_told(kept) as tell:
        tell(7, 12)
        assert progress_of(kept) == Progress(7, 12)
    with connection.cursor() as cursor:
        cursor.execute("SELECT pg_stat_clear_snapshot(), current_setting('application_name')")
        assert "import" not in cursor.fetchone()[1]
    assert progress_of(kept) is None
