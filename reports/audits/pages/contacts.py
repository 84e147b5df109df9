"""Chapter: who was due, who was seen, and what became of the others."""

from collections.abc import Sequence

from reports.audits import charts
from reports.audits.document import Column, Line, Section, Table
from reports.audits.numbers.contacts import Fate, Flow, PersonTime
from reports.audits.pages.text import drawn, in_full, itemised, limits
from reports.audits.results import Results
from reports.audits.spec import BEFORE, Clock, Spec
from reports.audits.values import FEWEST_FOR_MEAN
from reports.wording import INTERVAL, NONE, count, fixed, percent


def section(spec: Spec, results: Results) -> Section:
    """Print the flow of every contact, so that each outcome has its denominator."""
    quarter, twelve, _ = results.three(lambda numbers: numbers.flows)
    return Section(
        id="follow-up",
        title="Follow-up: who was due and who was seen",
        sentences=(
            seen_sentence(results.quarter.all_contacts),
            _person_time_sentence(results.person_time),
        ),
        tables=(_flows(results),),
        figures=drawn(charts.completeness(quarter, twelve)),
    )


def seen_sentence(flow: Flow) -> str:
    """Say how many contacts after the procedure were due, seen, and not seen."""
    if not flow.due:
        return "No contact after a procedure fell due in the quarter."
    dead = flow.count(Fate.DEAD)
    others = itemised(
        [(one.words, flow.count(one)) for one in Fate if one not in (Fate.SEEN, Fate.DEAD)]
    )
    return (
        f"{count(flow.due, 'contact')} after a procedure fell due in the quarter, {dead or 'none'} "
        "of them after the patient had died. Seen in the window: "
        f"{in_full(flow.seen, 'due and alive')}. {f'Of the others, {others}.' if others else ''}"
        f"{_entered_late(flow.entered_late)}"
    ).strip()


def _entered_late(n: int) -> str:
    """Say how many of those not seen nobody could have seen from here."""
    if not n:
        return ""
    what, they = ("is a contact of an earlier procedure", "it")
    if n > 1:
        what, they = ("are contacts of earlier procedures", "they")
    return (
        f" {n} of those not seen {what} whose window had closed before the list was entered; "
        f"whether {they} took place is not known."
    )


def _person_time_sentence(time: PersonTime) -> str:
    if time.index is None:
        return "No follow-up is owed yet."
    return (
        f"Of the follow-up time owed since the start, {percent(time.index, time.owed)} was "
        f"observed ({fixed(time.observed / 365.25, 1)} of {fixed(time.owed / 365.25, 1)} "
        f"patient-years, {count(time.procedures, 'procedure')})."
    )


def _flows(results: Results) -> Table:
    lines: list[Line] = []
    for name, flows in zip(
        ("Quarter", "Twelve months", "Since start"),
        results.three(lambda numbers: numbers.flows),
        strict=True,
    ):
        lines += [Line((name,), "group"), *(_line(flow) for flow in flows)]
    late = _entered_late(sum(flow.entered_late for flow in results.since_start.flows))
    return Table(
        id="contacts",
        title="Contacts that fell due",
        about=f"{Clock.DUE.words} Unit: contacts, one for each procedure.",
        columns=(
            Column("Contact", figure=False),
            Column("due"),
            *(Column(one.words) for one in Fate),
            Column("seen, of due and alive"),
            Column(INTERVAL),
        ),
        lines=tuple(lines),
        notes=(
            "Due is the sum of the columns after it, up to “not seen, no reason”. "
            "The contact before the procedure holds the baseline; its window closes on the day of "
            "the procedure.",
            *([f"Since start:{late}"] if late else []),
        ),
    )


def _line(flow: Flow) -> Line:
    seen = flow.seen
    return Line(
        (
            "before the procedure" if flow.timepoint == BEFORE else flow.title,
            str(flow.due),
            *_counts(flow),
            percent(seen.fraction, seen.total) if seen.total >= FEWEST_FOR_MEAN else NONE,
            limits(seen),
        ),
        "part",
    )


def _counts(flow: Flow) -> Sequence[str]:
    return [str(n) for _, n in flow.fates]
