"""What the operation record shows: the facts of each level and the forms beside them."""

from dataclasses import dataclass
from typing import Any

from django import forms

from planning.forms.procedures import (
    CementForm,
    ComplicationForm,
    ImplantForm,
    LeakForm,
    ProcedureForm,
    TreatedLevelForm,
)
from planning.selectors.theatre import newest_measurements
from register.models import (
    CementUse,
    Complication,
    ImplantUse,
    Leak,
    Measurement,
    Procedure,
    Site,
    TreatedLevel,
)
from register.services.procedures import procedure_gaps


@dataclass(frozen=True, slots=True)
class LevelPart:
    """One treated level with its entries and forms."""

    level: TreatedLevel
    measurement: Measurement | None
    form: forms.BaseForm
    implant_form: forms.BaseForm
    cement_form: forms.BaseForm
    leak_form: forms.BaseForm
    implants: list[Any]
    cement: list[Any]
    leaks: list[Any]

    @property
    def cement_total_ml(self) -> Any:
        """Sum of the recorded volumes in mL; None while none is recorded."""
        volumes = [use.volume_ml for use in self.cement if use.volume_ml is not None]
        return sum(volumes) if volumes else None

    @property
    def cement_counted(self) -> str:
        """What the sum is the sum of; an entry without a volume is not taken for zero."""
        known = sum(use.volume_ml is not None for use in self.cement)
        if known == len(self.cement):
            return "of all entries"
        return f"of {known} of {len(self.cement)} entries; the others have no volume"


@dataclass(frozen=True, slots=True)
class RecordPage:
    """The whole record."""

    form: forms.BaseForm
    levels: list[LevelPart]
    complications: list[Any]
    complication_form: forms.BaseForm
    gaps: list[str]


def record_page(found: Procedure, *, site: Site, bound: forms.BaseForm | None) -> RecordPage:
    """Read the record; `bound` is the form that came back with errors and keeps its typing."""
    levels = list(found.levels.live().select_related("fracture", "procedure").order_by("pk"))
    drawn = newest_measurements(level.fracture_id for level in levels)
    facts = bound if isinstance(bound, ProcedureForm) else None
    wrong = bound if isinstance(bound, ComplicationForm) else None
    return RecordPage(
        form=facts or ProcedureForm(site=site, instance=found),
        levels=[_part(level, drawn.get(level.fracture_id), bound) for level in levels],
        complications=list(found.complications.live()),
        complication_form=wrong
        or ComplicationForm(
            prefix="complication",
            instance=Complication(procedure=found, occurred_on=found.performed_on),
        ),
        gaps=procedure_gaps(found) if found.state == "open" else [],
    )


def _part(
    level: TreatedLevel, measurement: Measurement | None, bound: forms.BaseForm | None
) -> LevelPart:
    def shown(kind: type[Any], row: Any, name: str) -> Any:
        """The form that came back, with its typing; else a fresh one."""
        prefix = f"{name}-{level.pk}"
        same = bound is not None and bound.prefix == prefix
        return bound if same else kind(instance=row, prefix=prefix)

    return LevelPart(
        level=level,
        measurement=measurement,
        form=shown(TreatedLevelForm, level, "level"),
        implant_form=shown(ImplantForm, ImplantUse(level=level), "implant"),
        cement_form=shown(CementForm, CementUse(level=level), "cement"),
        leak_form=shown(LeakForm, Leak(level=level), "leak"),
        implants=list(level.implants.live()),
        cement=list(level.cement.live()),
        leaks=list(level.leaks.live()),
    )
