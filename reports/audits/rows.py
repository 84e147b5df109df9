"""The input rows of an audit: pseudonymised, frozen as JSON with a digest, and rebuilt from it.

Keys are pseudonyms of this one set (P0001, L0001 …); there are no names, numbers
or dates of birth. A blank text is "not recorded", None a number or day that is
not recorded. Rows sort themselves, so that their order in the database never
changes a digest, and refuse to point at a row that is not there.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import date
from decimal import Decimal
from typing import Any, Final, get_args, get_type_hints

FORM: Final = "audit rows 1"


@dataclass(frozen=True, slots=True)
class ProcedureRow:
    """One procedure. `end` and `ended_on`: how the patient's follow-up ended, if it did.

    `earlier`: it comes from a list of procedures done before the register was there.
    """

    key: str
    patient: str
    performed_on: date
    technique: str
    route: str
    age_years: int | None
    sex: str
    signed: bool
    complication_check: str
    end: str
    ended_on: date | None
    earlier: bool = False


@dataclass(frozen=True, slots=True)
class LevelRow:
    """One treated level. `fracture_age_days`: onset to procedure, None when not recorded.

    It is only as exact as `onset_precision`: an onset known to the month or year
    stands for a day within it.
    """

    key: str
    procedure: str
    level: str
    cause: str
    fracture_age_days: int | None
    onset_precision: str
    leak_check: str
    leak_checked_on: str


@dataclass(frozen=True, slots=True)
class LeakRow:
    """One leak of a treated level."""

    key: str
    level: str
    route: str
    place: str
    seen_on: str
    consequence: str


@dataclass(frozen=True, slots=True)
class ComplicationRow:
    """One complication of a procedure."""

    key: str
    procedure: str
    kind: str
    grade: str
    occurred_on: date


@dataclass(frozen=True, slots=True)
class ContactRow:
    """One contact that the protocol asks for; `held_on` is None when it has not taken place.

    `entered_late`: its window had closed before its procedure was entered from a list.
    """

    key: str
    procedure: str
    timepoint: str
    opens_on: date
    target_on: date
    closes_on: date
    held_on: date | None
    entered_late: bool = False


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """One score of a contact, or the reason why it has no value (a code of ABSENT)."""

    key: str
    contact: str
    instrument: str
    value: Decimal | None
    reason: str


@dataclass(frozen=True, slots=True)
class HeightRow:
    """The heights of a treated level on one image, in mm as `calibration` says."""

    key: str
    level: str
    taken_on: date
    modality: str
    posture: str
    calibration: str
    anterior_mm: Decimal | None
    middle_mm: Decimal | None
    posterior_mm: Decimal | None


@dataclass(frozen=True, slots=True)
class LogLineRow:
    """One line of the hospital's theatre log; `became` is "found", "not_ours" or "open".

    Lines of one operation share `operation`; '' where rows were frozen before it was told.
    """

    key: str
    performed_on: date
    became: str
    operation: str = ""


AnyRow = (
    ProcedureRow
    | LevelRow
    | LeakRow
    | ComplicationRow
    | ContactRow
    | ScoreRow
    | HeightRow
    | LogLineRow
)
# Field of Rows -> its row, and the field by which a row points at another kind.
KINDS: Final[dict[str, tuple[type[AnyRow], str, str]]] = {
    "procedures": (ProcedureRow, "", ""),
    "levels": (LevelRow, "procedure", "procedures"),
    "leaks": (LeakRow, "level", "levels"),
    "complications": (ComplicationRow, "procedure", "procedures"),
    "contacts": (ContactRow, "procedure", "procedures"),
    "scores": (ScoreRow, "contact", "contacts"),
    "heights": (HeightRow, "level", "levels"),
    "log_lines": (LogLineRow, "", ""),
}
# Kinds that came later: rows frozen before any theatre log could be sent in have none.
LATER: Final = ("log_lines",)


@dataclass(frozen=True)
class Rows:
    """Everything an audit is built from."""

    procedures: tuple[ProcedureRow, ...] = ()
    levels: tuple[LevelRow, ...] = ()
    leaks: tuple[LeakRow, ...] = ()
    complications: tuple[ComplicationRow, ...] = ()
    contacts: tuple[ContactRow, ...] = ()
    scores: tuple[ScoreRow, ...] = ()
    heights: tuple[HeightRow, ...] = ()
    log_lines: tuple[LogLineRow, ...] = ()

    def __post_init__(self) -> None:
        """Sort each kind by its key; refuse keys given twice and pointers into nothing."""
        for kind, (_, pointer, target) in KINDS.items():
            rows = sorted(getattr(self, kind), key=lambda row: row.key)
            object.__setattr__(self, kind, tuple(rows))
            keys = {row.key for row in rows}
            if len(keys) != len(rows):
                raise ValueError(f"Two of the {kind} share a key; every row needs its own.")
            known = {row.key for row in getattr(self, target)} if target else set()
            lost = [row.key for row in rows if pointer and getattr(row, pointer) not in known]
            if lost:
                raise ValueError(f"{lost[0]} of the {kind} belongs to none of the {target}.")


def rows_to_json(rows: Rows) -> str:
    """Return the rows as canonical JSON: the same rows always give the same text."""
    content: dict[str, Any] = {"form": FORM}
    for kind, (row_type, _, _) in KINDS.items():
        names = [field.name for field in fields(row_type)]
        values = [[_plain(getattr(row, name)) for name in names] for row in getattr(rows, kind)]
        content[kind] = {"fields": names, "rows": values}
    return json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def rows_from_json(text: str) -> Rows:
    """Read back what `rows_to_json` wrote, also before it wrote later kinds and fields.

    Raises ValueError for any other form.
    """
    content = json.loads(text)
    if not isinstance(content, dict) or content.get("form") != FORM:
        raise ValueError(f"These are not {FORM!r}; use the version that wrote them.")
    kinds: dict[str, Any] = {}
    for kind, (row_type, _, _) in KINDS.items():
        if kind in LATER and kind not in content:
            continue
        names = [field.name for field in fields(row_type)]
        needed = [field.name for field in fields(row_type) if field.default is MISSING]
        if content[kind]["fields"] not in (names, needed):
            raise ValueError(f"The {kind} have other fields than {', '.join(names)}.")
        readers = {name: _readers(row_type)[name] for name in content[kind]["fields"]}
        kinds[kind] = tuple(_row(row_type, readers, row) for row in content[kind]["rows"])
    return Rows(**kinds)


def digest(rows: Rows) -> str:
    """Return the SHA-256 of the canonical JSON."""
    return hashlib.sha256(rows_to_json(rows).encode()).hexdigest()


def _row(row_type: type[AnyRow], readers: Mapping[str, Any], values: Iterable[Any]) -> AnyRow:
    fields_read = zip(readers.items(), values, strict=True)
    return row_type(**{name: read(value) for (name, read), value in fields_read})


def _readers(row_type: type[AnyRow]) -> dict[str, Any]:
    """Field -> the function that reads its plain value back, in the order of the fields."""
    readers: dict[str, Any] = {}
    for name, hint in get_type_hints(row_type).items():
        options = get_args(hint) or (hint,)
        readers[name] = _read_day if date in options else _same
        if Decimal in options:
            readers[name] = _read_number
    return readers


def _read_day(value: str | None) -> date | None:
    return None if value is None else date.fromisoformat(value)


def _read_number(value: str | None) -> Decimal | None:
    return None if value is None else Decimal(value)


def _same(value: Any) -> Any:
    return value


def _plain(value: Any) -> Any:
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value
