"""Dates, units and missing values as the register writes them.

Months are letters, years have four figures, a value keeps the precision in
which it was recorded, and an empty one says in words why it is empty.
"""

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django import template
from django.utils import timezone
from django.utils.html import format_html
from django.utils.safestring import SafeString

from register.domain.days import NOT_RECORDED, age_years, day_words, known_words, precision_of
from register.domain.nhs_number import formatted
from register.domain.vocabulary import ABSENT

register = template.Library()

_REASONS = dict(ABSENT)
_TIGHT = {"°", "%"}


@register.filter
def day(value: date | None) -> str:
    """{{ referral.referred_on|day }} -> 07 Mar 2027; of a moment, its day at the hospital."""
    return day_words(_local(value) if isinstance(value, datetime) else value)


@register.filter
def day_known(value: date | None, precision: str = "day") -> str:
    """{{ fracture.onset_on|day_known:fracture.onset_precision }} -> Mar 2027.

    Nothing finer than what is known is printed: a month stays a month.
    """
    return known_words(value, precision)


@register.filter
def day_and_time(value: datetime | None) -> str:
    """{{ issued_at|day_and_time }} -> 07 Mar 2027, 14:05, on the hospital's clock."""
    if not value:
        return NOT_RECORDED
    local = _local(value)
    return f"{day_words(local)}, {local:%H:%M}"


@register.filter
def mm(value: Decimal | float | None) -> str:
    """A length in millimetres."""
    return with_unit(value, "mm")


@register.filter
def ml(value: Decimal | float | None) -> str:
    """A volume in millilitres."""
    return with_unit(value, "mL")


@register.filter
def deg(value: Decimal | float | None) -> str:
    """An angle in degrees."""
    return with_unit(value, "°")


@register.filter
def figures(value: Decimal) -> str:
    """{{ result.value|figures }}: a number without the zeros that its column adds."""
    return f"{value.normalize():f}"


@register.filter
def with_unit(value: object, unit: str) -> str:
    """{{ value|with_unit:"mmol/L" }}: the value as recorded, kept on one line with its unit."""
    if value is None or value == "":
        return NOT_RECORDED
    return f"{value}{'' if unit in _TIGHT else chr(0xA0)}{unit}"


@register.filter
def nhs(value: str | None) -> str:
    """An NHS Number as 999 000 0018, on one line."""
    if not value:
        return NOT_RECORDED
    return format_html('<span class="together">{}</span>', formatted(value))


@register.filter
def age_on(born: date | None, on: date | None) -> str:
    """{{ patient.date_of_birth|age_on:today }} -> 84 years, in completed years."""
    if not born or not on:
        return "age not recorded"
    years = age_years(born, on)
    return "1 year" if years == 1 else f"{years} years"


@register.filter
def recorded(value: object, reason: str = "") -> object:
    """{{ value|recorded }} or {{ value|recorded:reason }}: the value, or words for its absence."""
    if value is None or value == "" or value == []:
        return _missing(_REASONS[reason] if reason else NOT_RECORDED)
    return _plain(value)


@register.simple_tag
def fact(record: Any, name: str, unit: str = "") -> object:
    """{% fact measurement "depth_mm" "mm" %}: a field's value in words, or why it is empty.

    Understands choices, lists of choices, yes/no, dates, the `absent` map, and the
    reason why an unusual value is right.
    """
    value = getattr(record, name)
    if value is None or value == "" or value == []:
        absent: Mapping[str, str] = getattr(record, "absent", {})
        return recorded(None, absent.get(name, ""))
    if isinstance(value, list):
        words = dict(record._meta.get_field(name).base_field.choices)
        return ", ".join(str(words.get(item, item)) for item in value)
    display = getattr(record, f"get_{name}_display", None)
    if display is not None:
        return display()
    shown = with_unit(value, unit) if unit else _plain(value)
    if isinstance(value, date) and (precision := getattr(record, precision_of(name), "")):
        shown = known_words(value, precision)
    reason = getattr(record, "unusual", {}).get(name, "")
    return format_html("{} <small>unusual: {}</small>", shown, reason) if reason else shown


def _plain(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return day_and_time(value)
    return day_words(value) if isinstance(value, date) else value


def _missing(words: str) -> SafeString:
    return format_html('<span class="missing">{}</span>', words)


def _local(value: datetime) -> datetime:
    return timezone.localtime(value) if timezone.is_aware(value) else value
