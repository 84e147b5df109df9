"""Numbers of a row that a form would ask about: possible, and unlikely without a reason.

The ranges are those of `register.domain.usual`. Cement of a level that was treated from one
side is usual up to what is usual through one side. Treated from both, or from sides that the
row does not tell, it is usual up to what is usual in a plan for a whole level.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Final

from register.domain.usual import USUAL
from register.imports.procedures.rows import LevelTold, ProcedureRow

_ONE_SIDE: Final = ("left", "right", "midline")
_OF_SESSION: Final = {
    "dose_area_gy_cm2": ("Dose-area product", " Gy·cm²"),
    "fluoroscopy_s": ("Fluoroscopy", " s"),
}


def unlikely_numbers(row: ProcedureRow) -> list[str]:
    """Return what is unlikely in a row, each with what is usual."""
    told = [
        _words(words, row.procedure[name], *USUAL["Procedure", name], unit)
        for name, (words, unit) in _OF_SESSION.items()
        if name in session_reasons(row)
    ]
    return told + [
        _words(f"{level}, Cement", one.volume_ml, *_usual_cement(one), " mL")
        for level, one in row.levels.items()
        if _is_unlikely(one.volume_ml, *_usual_cement(one))
    ]


def session_reasons(row: ProcedureRow) -> dict[str, str]:
    """Return {field: why it is right} of the unlikely numbers of a session; "" where not said."""
    return {
        name: row.why_unlikely
        for name in _OF_SESSION
        if _is_unlikely(row.procedure.get(name), *USUAL["Procedure", name])
    }


def cement_reasons(row: ProcedureRow, told: LevelTold) -> Mapping[str, str]:
    """Return the same of the cement of a level."""
    unlikely = _is_unlikely(told.volume_ml, *_usual_cement(told))
    return {"volume_ml": row.why_unlikely} if unlikely else {}


def _usual_cement(told: LevelTold) -> tuple[Any, Any]:
    least, most = USUAL["CementUse", "volume_ml"]
    if told.given.get("side") in _ONE_SIDE:
        return least, most
    return least, USUAL["PlannedLevel", "cement_ml"][1]


def _is_unlikely(value: Any, least: Any, most: Any) -> bool:
    if not isinstance(value, int | Decimal):
        return False
    return (least is not None and value < least) or (most is not None and value > most)


def _words(name: str, value: Any, least: Any, most: Any, unit: str) -> str:
    return (
        f"{name}: {value}{unit} is unusual; most lie between {least} and {most}{unit} (common "
        "practice; confirm locally). Change it, or say under Why unlikely why it is right."
    )
