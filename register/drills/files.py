"""Every awkward file that the tests know: what becomes of it, and whether a value was changed.

The files stand in the tests (referral_files.py, referral_workbooks.py, score_files.py),
each with the outcome that it must have and with the truth that a row which is taken must say.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from importlib import import_module
from typing import Any, Final

from register.forms.dates import KnownDate
from register.imports.decoding import FileRefused
from register.imports.kinds import KINDS
from register.imports.mapping import fits
from register.imports.reading import ReadFile, Values, read_table, table_in
from register.imports.referrals.judging import judge
from register.imports.scores.judging import judge as judge_scores
from register.imports.verdicts import LEFT_OUT, LETTERS, Kind
from register.imports.workbook import SheetUnclear

RUNS: Final = 1  # nothing is drawn by lot
JUDGES: Final[dict[str, Callable[..., Any]]] = {"referrals": judge, "scores": judge_scores}
_WORDS: Final = {LETTERS[kind]: kind.words for kind in Kind}


@dataclass(slots=True)
class Outcome:
    """What became of one file. `wrong` names each value that was taken and is not the truth."""

    asked: list[str] = field(default_factory=list)
    refused: str = ""
    rows: str = ""
    reasons: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)

    @property
    def words(self) -> str:
        """The outcome in words, for the table."""
        asked = f"asks about {', '.join(self.asked)}" if self.asked else ""
        rows = ", ".join(_WORDS[letter] for letter in self.rows)
        told = "refused as a whole" if self.refused else rows
        return "; then ".join(part for part in (asked, told) if part)


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Read every file and tell the table; True when none was silently wrong or otherwise."""
    names = ("referral_files", "referral_workbooks", "score_files")
    tests = [import_module(f"tests.{name}") for name in names]
    cases = [*tests[0].CASES, *tests[1].WORKBOOKS, *tests[2].CASES]
    silently, otherwise = 0, 0
    for case in cases:
        found = outcome_of(case, today=tests[0].TODAY)
        problems = differences(case, found)
        silently += bool(found.wrong)
        otherwise += bool(problems)
        say(f"{case.name:<46} {found.words}")
        for words in (found.refused, *found.reasons[:1], *problems):
            if words:
                say(f"{'':<46}   {words}")
    say(f"{len(cases)} files, silently wrong {silently}, otherwise than expected {otherwise}.")
    return not silently and not otherwise


def outcome_of(case: Any, *, today: date) -> Outcome:
    """Send one file through all that a file goes through until it could be written."""
    found = Outcome()
    try:
        file = _read(case, found, today)
    except FileRefused as refused:
        found.refused = str(refused)
        return found
    if file is not None:
        verdicts = JUDGES[case.kind](file, case.known)
        found.rows = "".join(LETTERS[verdict.kind] for verdict in verdicts)
        found.reasons = [words for verdict in verdicts for words in verdict.reasons]
        if verdicts[0].kind not in LEFT_OUT:
            found.wrong = list(_wrong(file.lines[0].values or {}, case.truth))
    return found


def differences(case: Any, found: Outcome) -> list[str]:
    """Return how an outcome differs from the one that the case must have."""
    told = " ".join(found.reasons)
    checks = {
        f"asks {found.asked}, not {case.asks!r}": found.asked == [case.asks][: bool(case.asks)],
        f"rows {found.rows!r}, not {case.rows!r}": found.rows == case.rows,
        f"does not refuse with “{case.refused}”": case.refused in found.refused,
        "is refused": bool(case.refused) or not found.refused,
        f"does not say “{case.says}”": case.says in told,
    }
    return [words for words, holds in checks.items() if not holds] + found.wrong


def _read(case: Any, found: Outcome, today: date) -> ReadFile | None:
    """Read a file and answer what is asked; None where the case has no answer."""
    kind = KINDS[case.kind]
    try:
        table = table_in(case.content, kind=kind, code_page=case.code_page)
    except SheetUnclear as unclear:
        found.asked.append("sheet")
        if case.sheet not in unclear.sheets:
            return None
        table = table_in(case.content, kind=kind, sheet=case.sheet)
    if table.lines and not fits(table, kind.columns):
        found.asked.append("columns")
        if case.mapping is None:
            return None
    if table.how.doubtful:
        found.asked.append("letters")
    return read_table(table, kind=kind, date_order=case.order, today=today, mapping=case.mapping)


def _wrong(values: Values, truth: dict[str, Any]) -> Iterator[str]:
    """Yield each value of a taken row that is not what was really said."""
    by_field = {name: _plain(value) for (_, name), value in values.items()}
    for name, true in truth.items():
        if by_field.get(name) != true:
            yield f"{name} is taken as {by_field.get(name)!r}, the truth is {true!r}"


def _plain(value: Any) -> Any:
    """Return a value as the truth holds it: a whole day alone, a reason by its code."""
    if isinstance(value, KnownDate):
        return value.on if value.precision == "day" else (value.on, value.precision)
    return getattr(value, "reason", value)
