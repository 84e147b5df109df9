"""Writing what was done in theatre. Each part is saved by itself, so that nothing waits for a
last button; signing closes the record, and a signed record changes only with a reason. One
from a list of earlier procedures counts in audits, too: a gap in it is filled as it comes, and
what is recorded changes only with a reason.
"""

from collections.abc import Sequence
from datetime import date
from typing import Any, TypeVar

from django.core.exceptions import ValidationError
from django.utils import timezone

from register.domain.clock import onset_range
from register.domain.days import known_words
from register.domain.gs1 import parse_udi
from register.history import acting
from register.models import (
    CementUse,
    Complication,
    Fracture,
    ImplantUse,
    Leak,
    Patient,
    Procedure,
    StockItem,
    Technique,
    TreatedLevel,
    User,
)
from register.models.base import Record
from register.services.editing import update_row

Part = TypeVar("Part", bound=Record)


def procedure_open(
    *,
    patient: Patient,
    technique: Technique,
    performed_on: date,
    operator: User,
    levels: Sequence[dict[str, Any]],
    user: User,
    **fields: Any,
) -> Procedure:
    """Open the record of a procedure with the levels that are to be treated.

    Each level is a dict with `fracture` and fields of TreatedLevel. Raises
    ValidationError, also when a fracture belongs to another patient.
    """
    with acting(user, "Procedure record opened"):
        procedure = Procedure(
            patient=patient,
            technique=technique,
            performed_on=performed_on,
            operator=operator,
            **fields,
        )
        procedure.full_clean()
        procedure.save()
        for level in levels:
            level_add(procedure=procedure, user=user, **level)
    return procedure


def level_add(
    *, procedure: Procedure, fracture: Fracture, user: User, reason: str = "", **fields: Any
) -> TreatedLevel:
    """Add a treated level. A signed record needs a reason."""
    _ask_reason(procedure, reason)
    if fracture.patient_id != procedure.patient_id:
        raise ValidationError("This fracture belongs to another patient.")
    if fracture.onset_on is not None:
        earliest, _ = onset_range(fracture.onset_on, fracture.onset_precision)
        if earliest > procedure.performed_on:
            began = known_words(fracture.onset_on, fracture.onset_precision)
            raise ValidationError(
                f"The fracture of {fracture.level} began {began}, after this procedure. "
                "Correct one of the two days."
            )
    level = TreatedLevel(procedure=procedure, fracture=fracture, **fields)
    return _part_save(level, user, reason)


def procedure_change(
    *, procedure: Procedure, expected_version: int, user: User, reason: str = "", **fields: Any
) -> Procedure:
    """Change the session facts. A signed record, or a recorded fact of a list, needs a reason."""
    _ask_reason(procedure, reason, changes=_is_changed(procedure, fields))
    with acting(user, reason or "Procedure record changed"):
        for name, value in fields.items():
            setattr(procedure, name, value)
        update_row(procedure, expected_version=expected_version, fields=list(fields))
    return procedure


def level_change(
    *, level: TreatedLevel, expected_version: int, user: User, reason: str = "", **fields: Any
) -> TreatedLevel:
    """Change how one level was treated. A reason is needed as for the session facts."""
    _ask_reason(level.procedure, reason, changes=_is_changed(level, fields))
    with acting(user, reason or "Treated level changed"):
        for name, value in fields.items():
            setattr(level, name, value)
        update_row(level, expected_version=expected_version, fields=list(fields))
    return level


def implant_add(
    *, level: TreatedLevel, raw_scan: str, user: User, reason: str = "", **fields: Any
) -> ImplantUse:
    """Record an implant from its scan. The scan is kept as it came, beside what was read.

    Raises ValueError with the words of the reader when the scan cannot be
    trusted (wrong check digit), ValidationError when the lot is expired or recalled.
    """
    _ask_reason(level.procedure, reason)
    read = parse_udi(raw_scan)
    stock = _stock_of(level, read.gtin, read.lot)
    _refuse_unfit(level.procedure, read.expires_on, stock)
    implant = ImplantUse(
        level=level,
        stock_item=stock,
        raw_scan=raw_scan,
        gtin=read.gtin or "",
        lot=read.lot or "",
        serial=read.serial or "",
        produced_on=read.produced_on,
        expires_on=read.expires_on,
        size_label=fields.pop("size_label", "") or (stock.size_label if stock else ""),
        **fields,
    )
    return _part_save(implant, user, reason)


def _stock_of(level: TreatedLevel, gtin: str | None, lot: str | None) -> StockItem | None:
    site = level.procedure.patient.site_id
    return StockItem.objects.live().filter(site=site, gtin=gtin or "-", lot=lot or "").first()


def _refuse_unfit(procedure: Procedure, expires_on: date | None, stock: StockItem | None) -> None:
    """An expired or recalled lot cannot be chosen; if it was implanted, that is an incident."""
    if expires_on is not None and expires_on < procedure.performed_on:
        raise ValidationError(
            f"This implant expired on {expires_on:%d %b %Y}. Take another one. If it was "
            "implanted, record a complication and say so there."
        )
    if stock is not None and stock.recalled_on is not None:
        raise ValidationError(
            f"This lot was recalled on {stock.recalled_on:%d %b %Y}. Take another one. If it was "
            "implanted, record a complication and say so there."
        )


def cement_add(*, level: TreatedLevel, user: User, reason: str = "", **fields: Any) -> CementUse:
    """Record the cement of one side."""
    _ask_reason(level.procedure, reason)
    return _part_save(CementUse(level=level, **fields), user, reason)


def leak_add(*, level: TreatedLevel, user: User, reason: str = "", **fields: Any) -> Leak:
    """Record a leak; the level is thereby known to have been looked at."""
    _ask_reason(level.procedure, reason, changes=level.leak_check == "no_leak")
    with acting(user, reason or "Leak recorded"):
        leak = _part_save(Leak(level=level, **fields), user, reason)
        if level.leak_check != "leak":
            level.absent.pop("leak_check", None)
            level.leak_check, level.leak_checked_on = "leak", leak.seen_on
            update_row(
                level,
                expected_version=level.version,
                fields=["leak_check", "leak_checked_on", "absent"],
            )
    return leak


def complication_add(
    *, procedure: Procedure, user: User, reason: str = "", **fields: Any
) -> Complication:
    """Record a complication; the procedure is thereby known to have one."""
    _ask_reason(procedure, reason, changes=procedure.complication_check == "none")
    with acting(user, reason or "Complication recorded"):
        row = _part_save(Complication(procedure=procedure, **fields), user, reason)
        if procedure.complication_check != "some":
            procedure.absent.pop("complication_check", None)
            procedure.complication_check = "some"
            update_row(
                procedure,
                expected_version=procedure.version,
                fields=["complication_check", "absent"],
            )
    return row


def part_void(*, part: Record, procedure: Procedure, reason: str, user: User) -> None:
    """Take back an implant, cement, leak or complication entered by mistake, with the reason."""
    if not reason.strip():
        raise ValidationError("Say why this entry is taken back.")
    with acting(user, reason):
        part.voided_at, part.void_reason = timezone.now(), reason
        update_row(part, expected_version=part.version, fields=["voided_at", "void_reason"])


def procedure_gaps(procedure: Procedure) -> list[str]:
    """What the record still lacks before signing, in words; a reason in its place is enough."""
    gaps = [
        words
        for field, words in (
            ("anaesthesia", "anaesthesia"),
            ("level_check", "how the level was confirmed"),
            ("complication_check", "whether there was a complication"),
        )
        if not getattr(procedure, field) and field not in procedure.absent
    ]
    for level in procedure.levels.live().select_related("fracture"):
        name = level.fracture.level
        if not level.side and "side" not in level.absent:
            gaps.append(f"side of {name}")
        if not level.leak_check and "leak_check" not in level.absent:
            gaps.append(f"whether leaks of {name} were looked for")
        if level.leak_check == "leak" and not level.leaks.live().exists():
            gaps.append(f"the leak of {name}: by which route, to which place")
        if not level.cement.live().exists():
            gaps.append(f"cement of {name} (or the reason why there is none)")
    return gaps


def procedure_sign(*, procedure: Procedure, expected_version: int, user: User) -> Procedure:
    """Close the record in the name of `user`; its fractures count as treated from then on.

    Raises ValidationError naming what is missing.
    """
    gaps = procedure_gaps(procedure)
    if gaps:
        raise ValidationError(f"Before signing, record: {'; '.join(gaps)}.")
    with acting(user, "Procedure signed"):
        procedure.state, procedure.signed_by = "signed", user
        procedure.signed_at = timezone.now()
        update_row(
            procedure,
            expected_version=expected_version,
            fields=["state", "signed_by", "signed_at"],
        )
        for level in procedure.levels.live().select_related("fracture"):
            fracture = level.fracture
            fracture.state = "treated"
            update_row(fracture, expected_version=fracture.version, fields=["state"])
    return procedure


def _ask_reason(procedure: Procedure, reason: str, *, changes: bool = False) -> None:
    """Refuse a change without its reason; `changes` is false where only a gap is filled."""
    if reason.strip():
        return
    if procedure.state == "signed":
        raise ValidationError("This record is signed. Say why it is changed.")
    if procedure.state == "earlier" and changes:
        raise ValidationError(
            "This would change what the list of earlier procedures said. Say why it is changed."
        )


def _is_changed(row: Record, fields: dict[str, Any]) -> bool:
    """Whether a value that is recorded would change; a form may have laid new ones over `row`.

    Why something is empty, or right although unlikely, is no value of its own.
    """
    recorded = type(row)._base_manager.get(pk=row.pk)
    pairs = [
        (getattr(recorded, name), value)
        for name, value in fields.items()
        if name not in ("absent", "unusual")
    ]
    return any(old not in (None, "") and _plain(old) != _plain(new) for old, new in pairs)


def _plain(value: Any) -> Any:
    """Return a value to compare: a page sends the ends of lines in another way than a file."""
    return value.split() if isinstance(value, str) else value


def _part_save(part: Part, user: User, reason: str = "") -> Part:
    with acting(user, reason or "Procedure record"):
        part.full_clean()
        part.save()
    return part
