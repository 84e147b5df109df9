"""Exact numbers: whatever a form or a file of check values holds, as a Decimal."""

from decimal import Decimal, InvalidOperation

Number = Decimal | int | float | str


def exact(value: Number, name: str) -> Decimal:
    """Return a finite number exactly as written: 0.1 is one tenth, not its binary neighbour.

    `name` says in the message what the number is. Raises ValueError for text that
    is not a number, for true and false, and for what is not finite.
    """
    if isinstance(value, bool):
        raise ValueError(f"{name} must be a number, not {value}.")
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        raise ValueError(f"{name} must be a number, not {value!r}.") from None
    if not number.is_finite():
        raise ValueError(f"{name} must be a number, not {value!r}.")
    return number


def trimmed(value: Decimal, step: Decimal) -> Decimal:
    """Return an equal number without trailing zeros finer than `step`: 1.60 is 1.6, 1.00 is 1.0.

    Digits are never added: with a step of 0.1, 4 stays 4.
    """
    if value == value.quantize(step):
        shorter = value.quantize(step)
        return min(value, shorter, key=lambda number: len(str(number)))
    return value.normalize()


def exact_positive(value: Number, name: str) -> Decimal:
    """Return a number above 0. Raises ValueError for anything else."""
    number = exact(value, name)
    if number <= 0:
        raise ValueError(f"{name} must be above 0, not {value}.")
    return number
