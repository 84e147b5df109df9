"""The register of calculations: every number rule that a check value can prove, by published name.

A pure package registers a function beside its definition; the `verify` command
then runs files of check values against it, so that a department can prove its
own installation. A calculation has keyword inputs only, answers with a
dataclass, a mapping, or one value under the name given as `answer`, and
refuses input it cannot use with ValueError and a message that says what to do.
"""

import dataclasses
import datetime
import enum
import inspect
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, Final, ParamSpec, TypeVar

Arguments = ParamSpec("Arguments")
Answer = TypeVar("Answer")


class UnknownCalculation(LookupError):
    """No calculation of that name is registered."""


@dataclasses.dataclass(frozen=True, slots=True)
class Calculation:
    """One registered function. `answer` names the value of a function that returns a bare one."""

    name: str
    function: Callable[..., Any]
    answer: str | None
    inputs: tuple[str, ...]
    required: tuple[str, ...]


_CALCULATIONS: Final[dict[str, Calculation]] = {}


def calculation(
    name: str, *, answer: str | None = None
) -> Callable[[Callable[Arguments, Answer]], Callable[Arguments, Answer]]:
    """Register a function under its published name and return it unchanged.

    `answer="check_digit"` wraps a bare return value as {"check_digit": value}.
    A parameter that would be a Python keyword ends with one underscore in the
    function (`class_`) and without it in the check values (`class`). Raises
    ValueError when the name belongs to another function already.
    """

    def register(function: Callable[Arguments, Answer]) -> Callable[Arguments, Answer]:
        known = _CALCULATIONS.get(name)
        if known is not None and _place(known.function) != _place(function):
            raise ValueError(
                f"The calculation {name!r} is registered already by {_place(known.function)}."
            )
        parameters = inspect.signature(function).parameters.values()
        _CALCULATIONS[name] = Calculation(
            name=name,
            function=function,
            answer=answer,
            inputs=tuple(p.name.rstrip("_") for p in parameters),
            required=tuple(p.name.rstrip("_") for p in parameters if p.default is p.empty),
        )
        return function

    return register


def registered() -> tuple[str, ...]:
    """Return the names of all calculations registered so far, sorted."""
    return tuple(sorted(_CALCULATIONS))


def calculate(name: str, inputs: Mapping[str, Any]) -> dict[str, Any]:
    """Run one calculation and return its answer as plain JSON values.

    Raises UnknownCalculation for a name that nobody registered, and ValueError
    for inputs that are missing, not expected, or refused by the calculation.
    """
    try:
        found = _CALCULATIONS[name]
    except KeyError:
        raise UnknownCalculation(
            f"No calculation is called {name!r}. Known: {', '.join(registered()) or 'none'}."
        ) from None
    _check_names(found, inputs)
    keywords = {p: inputs[p.rstrip("_")] for p in _parameters(found) if p.rstrip("_") in inputs}
    result = found.function(**keywords)
    answer = plain({found.answer: result} if found.answer is not None else result)
    if not isinstance(answer, dict):
        raise TypeError(f"{name!r} answered {answer!r}; name the value with answer=.")
    return answer


def plain(value: Any) -> Any:
    """Return a value as JSON carries it: dates in ISO form, decimals as floats, None as None."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: plain(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, enum.Enum):
        return plain(value.value)
    if isinstance(value, datetime.date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return float(value)
    return value


def _parameters(found: Calculation) -> tuple[str, ...]:
    return tuple(inspect.signature(found.function).parameters)


def _check_names(found: Calculation, inputs: Mapping[str, Any]) -> None:
    unexpected = sorted(set(inputs) - set(found.inputs))
    missing = [name for name in found.required if name not in inputs]
    if unexpected:
        raise ValueError(
            f"{found.name} does not use {', '.join(unexpected)}; it takes "
            f"{', '.join(found.inputs)}."
        )
    if missing:
        raise ValueError(f"{found.name} also needs {', '.join(missing)}.")


def _place(function: Callable[..., Any]) -> str:
    return f"{function.__module__}.{function.__qualname__}"
