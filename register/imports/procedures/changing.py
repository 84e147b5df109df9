"""What a row of a list of earlier procedures writes to what is recorded, part by part."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from register.domain import vocabulary as v
from register.domain.days import day_words
from register.imports.cells import Absent
from register.imports.procedures.compare import (
    cement_weighed,
    complications_paired,
    fracture_weighed,
    grade_weighed,
    leaks_weighed,
    level_weighed,
    procedure_weighed,
)
from register.imports.procedures.earlier import Earlier
from register.imports.procedures.known import KnownLevel, KnownPatient, KnownProcedure
from register.imports.procedures.rows import LevelTold, ProcedureRow
from register.imports.procedures.unlikely import cement_reasons, session_reasons
from register.imports.referrals.known import KnownFracture
from register.imports.verdicts import Addition, Edit
from register.imports.weighing import Recorded, Weighed


@dataclass(slots=True)
class Writing:
    """What one row writes to recorded rows, and what is told of it."""

    notes: list[str] = field(default_factory=list)
    edits: list[Edit] = field(default_factory=list)
    additions: list[Addition] = field(default_factory=list)
    conflicts: list[str] = field(default_factory=list)

    def take(
        self, row: Recorded, weighed: Weighed, unlikely: Mapping[str, str] | None = None
    ) -> None:
        """Tell of what was weighed, and write what it changes.

        `unlikely` are the reasons of unlikely numbers; those of changed ones are kept.
        """
        self.notes += [*weighed.changes, *weighed.kept]
        self.conflicts += weighed.conflicts
        if reasons := {n: why for n, why in (unlikely or {}).items() if n in weighed.values}:
            weighed.values["unusual"] = {**row.values["unusual"], **reasons}
        if weighed.values:
            self.edits.append(Edit(row.model, row.pk, row.version, weighed.values))


def change(
    row: ProcedureRow,
    recorded: KnownProcedure,
    patient: KnownPatient,
    earlier: Earlier,
    writing: Writing,
) -> None:
    """Fill or change a recorded procedure with all its parts; say what is in the way."""
    if set(row.levels) != set(recorded.levels):
        writing.conflicts.append(
            f"Levels: the file says {', '.join(row.levels)}, "
            f"recorded are {', '.join(recorded.levels)}."
        )
        return
    writing.take(recorded, procedure_weighed(row, recorded), session_reasons(row))
    _change_complications(row, recorded, writing)
    for level, told in row.levels.items():
        _change_level(row, told, recorded.levels[level], writing)
        change_fracture(row, recorded.levels[level].fracture, patient, earlier, writing)
    if recorded.state != "earlier" and (writing.edits or writing.additions):
        state = v.words_for(v.CASE_STATE, recorded.state)
        writing.conflicts.append(
            f"This procedure was recorded here ({state}): what the list says otherwise is for a "
            "person to enter."
        )


def _change_complications(row: ProcedureRow, recorded: KnownProcedure, writing: Writing) -> None:
    for (kind, day, grade), there in complications_paired(row, recorded):
        if there is not None:
            writing.take(there, grade_weighed(there, grade))
            continue
        writing.notes.append(
            f"Complications: {v.words_for(v.COMPLICATION, kind)} of {day_words(day)} is added."
        )
        values = {"procedure_id": recorded.pk, "kind": kind, "occurred_on": day, "grade": grade}
        writing.additions.append(Addition("complication", values))


def _change_level(row: ProcedureRow, told: LevelTold, there: KnownLevel, writing: Writing) -> None:
    treated = level_weighed(row, told, there)
    writing.take(there, treated)
    if "leak_check" in treated.values:
        for values in leak_values(row, told):
            writing.additions.append(Addition("leak", {"level_id": there.pk} | values))
    for leak, weighed in leaks_weighed(row, told, there):
        writing.take(leak, weighed)
    poured = cement_weighed(told, there)
    for entry in there.cement[:1]:
        writing.take(entry, poured, cement_reasons(row, told))
    if told.volume_ml is not None and not there.cement:
        writing.notes.append(f"{there.fracture.level}, Cement mL: {_poured(told)} is added.")
        values = {"level_id": there.pk} | cement_values(row, told)
        writing.additions.append(Addition("cementuse", values))


def change_fracture(
    row: ProcedureRow,
    recorded: KnownFracture,
    patient: KnownPatient,
    earlier: Earlier,
    writing: Writing,
    *,
    treats: bool = False,
) -> None:
    """Fill or change the fracture of a row; one that a new procedure treats waits no longer."""
    fracture = earlier.as_written(recorded)
    level, began = fracture.level, fracture_weighed(row, fracture)
    writing.conflicts += _onset_taken(began.values.get("onset_on"), fracture, patient, earlier)
    if treats and fracture.state == "waiting":
        began.values["state"] = "treated"
        words = (v.words_for(v.FRACTURE_STATE, state) for state in ("waiting", "treated"))
        began.changes.append(f"{level}: {' → '.join(words)}")
    if began.values and fracture.pk in earlier.edited:
        writing.conflicts.append(
            "An earlier row of this file writes to the same fracture, and this row says other "
            f"or more ({'; '.join(began.changes)}). Give both rows the same."
        )
    writing.take(fracture, began)
    if row.referred_on and row.referred_on != fracture.referred_on:
        writing.notes.append(
            f"{level}, Referral date: the file says {day_words(row.referred_on)}; "
            f"{day_words(fracture.referred_on)} is kept."
        )


def _onset_taken(
    onset: date | None, fracture: KnownFracture, patient: KnownPatient, earlier: Earlier
) -> list[str]:
    """Return why a fracture cannot have a new onset: another one of its level has it."""
    level = fracture.level
    others = [f.onset_on for f in patient.fractures if f.level == level and f.pk != fracture.pk]
    others += [row.onset_on for row in earlier.brought[level]]
    if onset is None or onset not in others:
        return []
    return [f"{level} with this onset is recorded already."]


def leak_values(row: ProcedureRow, told: LevelTold) -> list[dict[str, str]]:
    """Return the fields of each leak of a level."""
    return [
        {"place": place, "route": route, "seen_on": row.seen_on, "consequence": row.consequence}
        for place, route in told.leaks or ()
    ]


def cement_values(row: ProcedureRow, told: LevelTold) -> dict[str, Any]:
    """Return the fields of the one cement entry of a level; empty when nothing is told."""
    match told.volume_ml:
        case None:
            return {}
        case Absent(reason):
            return {"absent": {"volume_ml": reason}}
        case volume:
            return {"volume_ml": volume, "unusual": cement_reasons(row, told)}


def _poured(told: LevelTold) -> str:
    volume = told.volume_ml
    return v.words_for(v.ABSENT, volume.reason) if isinstance(volume, Absent) else f"{volume}"
