"""Write in every way into every table with history, and compare log and tables row by row."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from typing import Any, Final

from django.conf import settings
from django.core.management import call_command

from planning.drills import transfers
from planning.record_kinds import BY_CODE
from planning.services.aside import record_aside, record_back
from planning.services.operations import procedure_finish
from register.domain.vocabulary import COMPLICATION_CHECK, LEVEL_CHECK, codes
from register.drills._paths import JOB, Matrix, newest, tables_with_history, untold
from register.drills._paths import run as ask
from register.history import acting
from register.models import Fracture, Patient, Site, Technique, User
from register.selectors.imports import preview_of
from register.services import imaging, patients, procedures, referrals
from register.services.import_confirm import import_confirm
from register.services.imports import import_keep

RUNS: Final = 20  # pairs of records that are merged and moved
TODAY: Final = date(2026, 11, 25)
FILE: Final = settings.BASE_DIR / "fixtures" / "referrals" / "fresh.csv"


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Fill the matrix; True when every cell has the right row before and after, and a name."""
    cells = Matrix().run()
    bad = [f"{cell.way}, {cell.table}: {cell.trouble}" for cell in cells if cell.trouble]
    tables = {model._meta.db_table for model in tables_with_history()}
    ways = {cell.way for cell in cells}
    say(f"{len(ways)} plain write paths x {len(tables)} tables: {len(cells) - len(bad)} of "
        f"{len(cells)} cells right.")  # fmt: skip
    complete, total = len(cells) - len(bad), len(cells)
    user = _consultant()
    for name, work in _works(user, runs, seed).items():
        mark = newest()
        work()
        touched = {row[0] for row in ask(_TOUCHED, mark)}
        trouble = untold(touched)
        wrong = {line.split(" ")[0] for line in trouble}
        bad += [f"{name}, {line}" for line in trouble]
        complete, total = complete + len(touched - wrong), total + len(touched)
        say(f"{name}: {newest() - mark} changes in {len(touched)} tables, {len(trouble)} wrong.")
    nobody = ask("SELECT count(*) FROM audit.change_log WHERE actor = ''")[0][0]
    say(f"write paths x tables complete {complete}/{total}; rows with no actor {nobody}.")
    for line in bad[:20]:
        say(line)
    return not bad and nobody == 0


_TOUCHED: Final = "SELECT DISTINCT table_name FROM audit.change_log WHERE id > %s"


def _works(user: User, runs: int, seed: int) -> dict[str, Callable[[], Any]]:
    return {
        "services": lambda: _by_services(user),
        "import": lambda: _by_import(user),
        "merge, move, undo": lambda: transfers.run(runs=runs, seed=seed, say=lambda words: None),
        "management command": lambda: call_command(
            "reassess", username=user.username, stdout=_Quiet()
        ),
    }  # fmt: skip


class _Quiet:
    """Takes what a command prints."""

    def write(self, words: str) -> None: ...


def _consultant() -> User:
    with acting(JOB):
        site = Site.objects.create(name="Harrowmere Drill", code="harrowmere-drill")
        return User.objects.create(username="drill.consultant", role="consultant", site=site)


def _by_import(user: User) -> None:
    kept = import_keep(
        site=user.site, user=user, file_name=FILE.name, content=FILE.read_bytes(),
        date_order="dmy", today=TODAY,
    )  # fmt: skip
    import_confirm(kept=kept, user=user, seen=preview_of(kept, today=TODAY).seal, today=TODAY)


def _by_services(user: User) -> None:
    """Walk one patient from the referral to a signed procedure, amend it, set aside, bring back."""
    patient = patients.patient_create(
        site=user.site, user=user, hospital_number="D1", family_name="Tarnwick",
        given_name="Edith", date_of_birth=date(1944, 4, 3), phones=[{"number": "01632 960141"}],
    )  # fmt: skip
    referral = referrals.referral_create(
        patient=patient, user=user, referred_on=TODAY, takes_antithrombotics=True,
        fractures=[{"level": "L1"}], drugs=[{"drug": "apixaban"}],
    )  # fmt: skip
    referrals.referral_change(
        referral=referral, expected_version=referral.version, user=user, pain_moving=7
    )
    study = imaging.study_create(patient=patient, user=user, modality="mri", performed_on=TODAY)
    imaging.reading_record(
        study=study, level="L1", reading=None, expected_version=0, user=user,
        findings={"observer": user, "read_on": TODAY}, measurement={"depth_mm": Decimal("33.0")},
    )  # fmt: skip
    _operate(patient, user)


def _operate(patient: Patient, user: User) -> None:
    with acting(JOB):
        technique = Technique.objects.create(site=user.site, name="Drill", route="balloon")
    fracture = Fracture.objects.get(patient=patient)
    procedure = procedures.procedure_open(
        patient=patient, technique=technique, performed_on=TODAY, operator=user, user=user,
        levels=[{"fracture": fracture, "side": "left"}], anaesthesia="sedation",
        level_check=codes(LEVEL_CHECK)[0], complication_check=codes(COMPLICATION_CHECK)[0],
    )  # fmt: skip
    level = procedure.levels.get()
    cement = procedures.cement_add(level=level, user=user, side="left", volume_ml=Decimal("2.0"))
    procedures.leak_add(level=level, user=user, seen_on="fluoroscopy")
    procedure_finish(procedure=procedure, expected_version=procedure.version, user=user)
    kind = BY_CODE["cement"]
    for act in (record_aside, record_back):
        cement.refresh_from_db()
        act(kind=kind, row=cement, expected_version=cement.version, user=user, reason="drill")
