"""Referral files against the register: previewed, confirmed, twice, and in conflict."""

import re
from datetime import date
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from register.history import acting
from register.history.reading import changes_of_row
from register.imports.decoding import FileRefused
from register.models import (
    FileImport,
    Fracture,
    LaboratoryResult,
    Patient,
    PatientPhone,
    Referral,
    ReferralDrug,
)
from register.selectors.imports import question_of
from register.services import import_confirm as confirming
from register.services import imports as writing
from tests.factories import make_site, make_user
from tests.integration.import_steps import confirm, keep, known_patient, look, rows_of_all_tables
from tests.referral_files import (
    CASES,
    CELLS,
    NHS_2,
    TODAY,
    TRUTH,
    Awkward,
    another,
    changed,
    written,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def nurse(db):
    with acting("test"):
        return make_user(make_site(), "nurse")


# --- the table of awkward files ------------------------------------------------------


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_an_awkward_file_is_refused_or_read_exactly(nurse, case: Awkward):
    before = rows_of_all_tables()
    if case.refused and not case.asks:
        with pytest.raises(FileRefused, match=re.escape(case.refused)):
            keep(nurse, case.content, case.order, code_page=case.code_page)
        assert rows_of_all_tables() == before
        return
    kept = keep(nurse, case.content, case.order, code_page=case.code_page)
    assert question_of(kept) == case.asks
    if not (kept := answered(nurse, kept, case)):
        return
    preview = look(kept)
    assert preview.seal == case.rows, [verdict.reasons for verdict in preview.verdicts]
    told = " ".join(word for verdict in preview.verdicts for word in verdict.reasons)
    assert case.says in told
    if preview.to_write:
        confirm(nurse, kept)
    assert wrong_values(case) == []


def answered(nurse, kept: FileImport, case: Awkward) -> FileImport | None:
    """Say what is asked about a file; None when there is no right answer, or a wrong one."""
    who = {"kept": kept, "expected_version": kept.version, "user": nurse}
    if case.asks:
        with pytest.raises(writing.ImportRefused, match="not settled"):
            confirm(nurse, kept, "n")
    if case.asks == "letters":
        return writing.import_letters_right(**who)
    if case.asks == "columns" and case.mapping and not case.refused:
        return writing.import_columns_choose(**who, chosen=case.mapping, today=TODAY)
    if case.asks:
        with pytest.raises(FileRefused, match=case.refused or "missing"):
            writing.import_columns_choose(**who, chosen=case.mapping or {}, today=TODAY)
        return None
    return kept


def wrong_values(case: Awkward) -> list[str]:
    """Return every stored value of the true patient's first referral that is not the truth."""
    if case.rows[0] != "n":
        assert Patient.objects.count() == 0
        return []
    patient = Patient.objects.get(hospital_number=TRUTH["hospital_number"])
    referral = patient.referrals.order_by("referred_on").first()
    onset = case.truth["onset_on"]
    onset = onset if isinstance(onset, tuple) else (onset, "day")
    pain = case.truth["pain_moving"]
    stored = {
        "nhs_number": patient.nhs_number,
        "family_name": patient.family_name,
        "given_name": patient.given_name,
        "date_of_birth": patient.date_of_birth,
        "referred_on": referral.referred_on,
        "levels": tuple(referral.fractures.order_by("pk").values_list("level", flat=True)),
        "onset_on": (referral.onset_on, referral.onset_precision),
        "onset of the fractures": {
            (f.onset_on, f.onset_precision) for f in referral.fractures.all()
        },
        "pain_moving": referral.absent.get("pain_moving", referral.pain_moving),
    }
    true = dict(case.truth) | {"onset_on": onset, "pain_moving": pain}
    true["onset of the fractures"] = {onset}
    return [f"{name}: {stored[name]!r}" for name in stored if stored[name] != true[name]]


# --- preview and confirmation -----------------------------------------------------------


def test_a_preview_writes_nothing(nurse):
    kept = keep(nurse, written([CELLS, another()]))
    before = rows_of_all_tables()
    assert len(look(kept).to_write) == 2
    assert rows_of_all_tables() == before


def test_the_bytes_are_kept_as_they_came(nurse):
    content = written([CELLS], encoding="utf-16")
    kept = FileImport.objects.get(pk=keep(nurse, content).pk)
    assert bytes(kept.content) == content
    assert kept.confirmed_at is None


def test_a_file_that_waits_is_kept_once(nurse):
    first, second = keep(nurse, written([CELLS])), keep(nurse, written([CELLS]))
    assert first.pk == second.pk
    assert keep(nurse, written([CELLS]), "mdy").pk != first.pk


def test_everything_a_row_says_is_written(nurse):
    cells = changed(
        Sex="female",
        Telephone="01632 960123",
        Blood_thinners="apixaban (atrial fibrillation); aspirin",
        Tender="yes",
        Blood_test_date="03 Mar 2027",
        INR="1.10",
        Platelets="231",
        Signs_of_failure="not walking",
        Steroids="declined",
    )
    confirm(nurse, keep(nurse, written([cells], names=cells)))
    referral = Referral.objects.get()
    assert referral.patient.sex == "female"
    assert PatientPhone.objects.get().number == "01632 960123"
    assert referral.failure_criteria == ["not_walking"]
    assert (referral.takes_steroids, referral.absent) == (None, {"takes_steroids": "declined"})
    assert referral.takes_antithrombotics is True
    assert set(ReferralDrug.objects.values_list("drug", "indication")) == {
        ("apixaban", "atrial_fibrillation"),
        ("aspirin", ""),
    }
    assert list(Fracture.objects.order_by("pk").values_list("level", "tender", "state")) == [
        ("T12", True, "waiting"),
        ("L1", True, "waiting"),
    ]
    assert list(
        LaboratoryResult.objects.order_by("analyte").values_list(
            "analyte", "value", "unit", "taken_on"
        )
    ) == [
        ("inr", Decimal("1.10"), "ratio", date(2027, 3, 3)),
        ("platelets", Decimal("231.00"), "×10⁹/L", date(2027, 3, 3)),
    ]
    assert {change.actor for change in changes_of_row(referral)} == {nurse.username}


def test_an_unknown_onset_stays_unknown_on_the_fracture(nurse):
    confirm(nurse, keep(nurse, written([changed(Onset_date="not known")])))
    fracture = Fracture.objects.first()
    assert (fracture.onset_on, fracture.absent) == (None, {"onset_on": "not_known"})


def test_the_same_file_twice_changes_nothing(nurse):
    content = written([CELLS, another()])
    confirm(nurse, keep(nurse, content))
    again = keep(nurse, content)
    before = rows_of_all_tables()
    assert look(again).seal == "ss"
    with pytest.raises(writing.ImportRefused, match="nothing to write"):
        confirm(nurse, again)
    assert rows_of_all_tables() == before


def test_a_confirmed_file_cannot_be_confirmed_again(nurse):
    kept = keep(nurse, written([CELLS]))
    seen = look(kept).seal
    confirm(nurse, kept, seen)
    with pytest.raises(writing.ImportRefused, match="confirmed already"):
        confirm(nurse, kept, seen)
    assert Patient.objects.count() == 1


def test_what_changed_since_the_preview_is_told_and_nothing_is_written(nurse):
    kept = keep(nurse, written([CELLS, another()]))
    seen = look(kept).seal
    known_patient(nurse, family_name="Otherwise")
    before = rows_of_all_tables()
    with pytest.raises(writing.PreviewOutdated) as outdated:
        confirm(nurse, kept, seen)
    assert [(c.number, c.before, c.now) for c in outdated.value.changed] == [
        (2, "new", "a person must decide")
    ]
    assert rows_of_all_tables() == before


@pytest.mark.parametrize("seen", ["", "n", "ss", "nnn", "xx"])
def test_a_confirmation_of_something_else_writes_nothing(nurse, seen):
    kept = keep(nurse, written([CELLS, another()]))
    with pytest.raises(writing.PreviewOutdated):
        confirm(nurse, kept, seen)
    assert Patient.objects.count() == 0


def test_a_save_of_somebody_else_in_the_very_moment_leaves_no_row(nurse, monkeypatch):
    """The verdicts are a moment old: the tables refuse the second row, and the first with it."""
    kept = keep(nurse, written([CELLS, another()]))
    preview = look(kept)
    known_patient(nurse, hospital_number="H00104999", nhs_number=NHS_2)
    before = rows_of_all_tables()
    monkeypatch.setattr(confirming, "preview_of", lambda kept, *, today: preview)
    with pytest.raises(writing.ImportRefused, match="in this moment"):
        confirm(nurse, kept, preview.seal)
    assert rows_of_all_tables() == before


def test_a_value_that_no_table_takes_leaves_no_row(nurse, monkeypatch):
    kept = keep(nurse, written([CELLS, another()]))
    preview = look(kept)
    preview.verdicts[1].row.patient["sex"] = "unheard of"
    before = rows_of_all_tables()
    monkeypatch.setattr(confirming, "preview_of", lambda kept, *, today: preview)
    with pytest.raises(writing.ImportRefused, match="Row 3: "):
        confirm(nurse, kept, preview.seal)
    assert rows_of_all_tables() == before


def test_refusals_are_noted_when_a_file_is_confirmed(nurse):
    kept = confirm(nurse, keep(nurse, written([CELLS, another(Levels="D12")])))
    assert {k: kept.counts[k] for k in ("new", "known", "same", "refused")} == {
        "new": 1,
        "known": 0,
        "same": 0,
        "refused": 1,
    }
    assert kept.transaction_id
    assert kept.counts["refusals"][0][0] == 3
    assert "D12" in kept.counts["refusals"][0][1]


def test_a_file_can_be_set_aside_until_it_is_confirmed(nurse):
    kept = keep(nurse, written([CELLS]))
    writing.import_set_aside(kept=kept, user=nurse)
    assert FileImport.objects.live().count() == 0
    kept = confirm(nurse, keep(nurse, written([CELLS])))
    with pytest.raises(writing.ImportRefused, match="was confirmed"):
        writing.import_set_aside(kept=kept, user=nurse)


def test_a_file_counts_its_queries_once_for_three_and_for_three_hundred_rows(nurse):
    def queries(rows: int) -> int:
        cells = [
            another(
                Hospital_number=f"Q{rows}-{n}",
                NHS_Number="",
                Given_name=f"Ann{n}",
                Family_name=f"Row{rows}",
            )
            for n in range(rows)
        ]
        confirm(nurse, keep(nurse, written(cells)))
        kept = keep(nurse, written([*cells, another(Hospital_number=f"Q{rows}-x", NHS_Number="")]))
        with CaptureQueriesContext(
            connection,
        ) as counted:
            preview = look(kept)
        assert preview.counts["same"] == rows
        return len(counted)

    assert queries(3) == queries(300)
