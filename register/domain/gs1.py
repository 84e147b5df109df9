"""Device identifiers on implants and cement: GS1 element strings, read with suspicion.

A scanner may drop or replace the separator between fields, and a lot number then
swallows the serial number without any error. So this module accepts the common
substitutes, refuses what does not check, and warns of what looks swallowed. It
returns fields for a person to confirm; the caller keeps the raw scan beside
them, as it came.

Rules: GS1 General Specifications (published, read on several pages): check
digit by weights 3 and 1 from the right; AI 01 fixed at 14 digits, 11 and 17
dates YYMMDD, 10 and 21 up to 20 characters ended by FNC1. Day 00 in an expiry
as the last day of the month, and the century by a 50-year window, are from
memory.
"""

import re
from dataclasses import dataclass
from datetime import date
from typing import Final

from biip import ParseError
from biip.gs1_messages import GS1Message

from register.domain.calculations import calculation

SEPARATOR: Final = "\x1d"  # FNC1 as scanners send it: ASCII 29
_SUBSTITUTES: Final = ("{GS}", "<GS>", "^]", "|", "\u241d")
_SYMBOLOGY: Final = re.compile(r"\](?:C1|d2|Q3|e0|J1)")
_TYPED: Final = re.compile(r"\((\d{2,4})\)([^(]+)")
_EXPIRY_INSIDE: Final = re.compile(r".17\d\d(?:0[1-9]|1[0-2])(?:[0-2]\d|3[01])")
LOT_USUALLY_UP_TO: Final = 12  # characters; common practice, no source
_LONGEST: Final = 120


@dataclass(frozen=True, slots=True)
class Udi:
    """The fields of one label; None where the label does not carry one.

    `warnings` are sentences for the person who confirms the fields; empty when
    nothing looks wrong.
    """

    gtin: str | None
    produced_on: date | None
    expires_on: date | None
    lot: str | None
    serial: str | None
    warnings: tuple[str, ...] = ()


@calculation("gs1_check_digit", answer="check_digit")
def check_digit(digits: str) -> int:
    """Return the GS1 check digit of a number without one. Raises ValueError for non-digits."""
    if not (digits.isascii() and digits.isdigit()):
        raise ValueError("A GS1 number consists of digits only.")
    weighted = sum(
        int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(reversed(digits))
    )
    return -weighted % 10


def is_gtin(digits: str) -> bool:
    """Return whether a text is a 14-digit device identifier with a right check digit."""
    if len(digits) != 14 or not (digits.isascii() and digits.isdigit()):
        return False
    return check_digit(digits[:-1]) == int(digits[-1])


@calculation("udi_parse")
def parse_udi(text: str) -> Udi:
    """Return the fields of a scanned or typed device identifier.

    Accepts element strings with FNC1 or a substitute for it, a symbology prefix,
    and the typed form (01)…(17)…. Raises ValueError, saying what to do, for
    anything that cannot be read whole or whose device identifier does not check.
    """
    if len(text) > _LONGEST:
        raise ValueError("This is longer than a device label. Scan one code at a time.")
    cleaned = _cleaned(text)
    if not cleaned:
        raise ValueError("Nothing was scanned. Scan the code on the package, or type its fields.")
    fields = _fields(cleaned)
    gtin = fields.get("01")
    if gtin is not None and not is_gtin(gtin):
        raise ValueError(
            f"The check digit of the device identifier {gtin} is wrong. Scan again, or compare "
            "it with the package."
        )
    return Udi(
        gtin=gtin,
        produced_on=_day(fields, "11"),
        expires_on=_day(fields, "17"),
        lot=fields.get("10"),
        serial=fields.get("21"),
        warnings=_warnings(fields),
    )


def _cleaned(text: str) -> str:
    """Return what was scanned or typed without prefix, and with FNC1 for its substitutes."""
    for substitute in _SUBSTITUTES:
        text = text.replace(substitute, SEPARATOR)
    around = f" \t\r\n{SEPARATOR}"
    return _SYMBOLOGY.sub("", text.strip(around), count=1).strip(around)


def _message(cleaned: str) -> GS1Message:
    typed = "".join(cleaned.split(" ")) if cleaned.startswith("(") else ""
    if typed and _TYPED.sub("", typed):
        raise ValueError(f"Not a field of a label: {_TYPED.sub('', typed)}. Write (01)… (17)… .")
    try:
        return GS1Message.parse_hri(typed) if typed else GS1Message.parse(cleaned)
    except ParseError:
        raise ValueError(
            "This is not a whole device label. Scan the code on the package again, or type its "
            "fields as (01)… (17)… (10)… (21)… ."
        ) from None


def _fields(cleaned: str) -> dict[str, str]:
    message = _message(cleaned)
    fields: dict[str, str] = {}
    for element in message.element_strings:
        if fields.setdefault(element.ai.ai, element.value) != element.value:
            raise ValueError(
                f"The field ({element.ai.ai}) stands twice with different content. Scan one code "
                "at a time."
            )
    return fields


def _day(fields: dict[str, str], ai: str) -> date | None:
    """Return a date field; day 00 is the last day of the month."""
    if ai not in fields:
        return None
    found = GS1Message.parse(ai + fields[ai]).element_strings.get(ai=ai)
    return found.date if found else None


def _warnings(fields: dict[str, str]) -> tuple[str, ...]:
    warnings = []
    lot = fields.get("10", "")
    too_long = len(lot) > LOT_USUALLY_UP_TO and any(ai in lot[1:] for ai in ("17", "21"))
    holds_a_date = "17" not in fields and _EXPIRY_INSIDE.search(lot)
    if too_long or holds_a_date:
        warnings.append(
            f"The lot {lot} may have swallowed a serial number or an expiry date. Compare each "
            "field with the package."
        )
    if "01" not in fields:
        warnings.append("The label carries no device identifier (01).")
    return tuple(warnings)
