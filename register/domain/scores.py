"""The instruments of a follow-up contact: what each asks, what is possible, what is unlikely.

The possible range is the instrument's definition. The unlikely change only
makes the page ask once; its size is common practice, no source, and nothing
is refused because of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from register.domain.vocabulary import ANALGESIC_STEP, MOBILITY, Words

_NO_YES: Final[Words] = (("0", "no"), ("1", "yes"))
_MOBILITY_DIGITS: Final[Words] = tuple(
    (str(len(MOBILITY) - 1 - place), words) for place, (_, words) in enumerate(MOBILITY)
)
PAIN: Final = ("pain_now", "pain_worst", "pain_moving")


@dataclass(frozen=True, slots=True)
class Instrument:
    """One question. `answers` are the words of each digit; empty for a plain number.

    `unlikely_change` is the difference from the last value, either way, from
    which the page asks once; `unlikely_from` the value itself. None: never asked.
    """

    code: str
    question: str
    unit: str
    low: int
    high: int
    answers: Words = ()
    unlikely_change: int | None = None
    unlikely_from: int | None = None

    @property
    def digits(self) -> int:
        """The most digits that a possible value has."""
        return len(str(self.high))

    def words(self, value: Decimal | int | None) -> str:
        """Return a value as the page prints it: "3", "2 weak opioid"; "not recorded" for None."""
        if value is None:
            return "not recorded"
        plain = f"{value:.1f}".removesuffix(".0")
        meaning = dict(self.answers).get(plain)
        return f"{plain} {meaning}" if meaning else plain


_ALL: Final = (
    Instrument("pain_now", "Pain now", "of 10", 0, 10, unlikely_change=6),
    Instrument("pain_worst", "Worst pain in the last week", "of 10", 0, 10, unlikely_change=6),
    Instrument("pain_moving", "Pain on movement", "of 10", 0, 10, unlikely_change=6),
    Instrument("disability_24", "Disability total", "of 24", 0, 24, unlikely_change=15),
    Instrument("disability_percent", "Disability index", "%", 0, 100, unlikely_change=60),
    Instrument(
        "analgesic_step", "Analgesic step", "0 to 3", 0, 3, ANALGESIC_STEP, unlikely_change=3
    ),
    Instrument("mobility", "Mobility", "0 to 4", 0, 4, _MOBILITY_DIGITS, unlikely_change=3),
    Instrument("new_pain", "New back pain since the last contact", "0 or 1", 0, 1, _NO_YES),
    Instrument("falls", "Falls since the last contact", "falls", 0, 99, unlikely_from=10),
    Instrument("bone_drug", "Takes a bone-protecting drug", "0 or 1", 0, 1, _NO_YES),
)
INSTRUMENTS: Final[Mapping[str, Instrument]] = {one.code: one for one in _ALL}
SCORE_RANGE: Final[Mapping[str, tuple[int, int]]] = {one.code: (one.low, one.high) for one in _ALL}


def impossible(code: str, value: Decimal | int) -> str:
    """Return what to do about a value outside the range; "" when it is possible."""
    asked = INSTRUMENTS[code]
    if asked.low <= value <= asked.high and value == int(value):
        return ""
    return f"{asked.question} is a whole number from {asked.low} to {asked.high}. Type it again."


def unlikely(
    code: str, value: int, *, before: int | None, told_on: str, where: str = "below"
) -> str:
    """Return the question that an unlikely value raises; "" when there is none.

    `before` is the last value of the same instrument, None without one, and
    `told_on` its day in words. `where` says where the reason is written.
    """
    asked = INSTRUMENTS[code]
    jumps = asked.unlikely_change is not None and before is not None
    if jumps and abs(value - before) >= asked.unlikely_change:  # type: ignore[operator]
        return (
            f"{asked.question} was {before} on {told_on} and is now {value}. "
            f"Change it, or say {where} why it is right."
        )
    if asked.unlikely_from is not None and value >= asked.unlikely_from:
        return f"{asked.question}: {value} is unusual. Change it, or say {where} why it is right."
    return ""


def worst_below_now(values: Mapping[str, int | None], where: str = "below") -> str:
    """Return the question raised by a worst pain below the pain now; "" when there is none."""
    now, worst = values.get("pain_now"), values.get("pain_worst")
    if now is None or worst is None or worst >= now:
        return ""
    return (
        f"The worst pain, {worst}, is below the pain now, {now}. "
        f"Change one of them, or say {where} why both are right."
    )
