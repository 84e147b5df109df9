"""The protocol in force as people read it: every number with unit, source and kind."""

from dataclasses import dataclass
from datetime import date

from planning.rules.core import Rule
from planning.selectors.verdicts import source_kind_words
from planning.services.protocols import InForce
from register.domain.protocol import ProtocolValue, SourceKind
from register.domain.timepoints import Timepoint
from register.domain.vocabulary import INSTRUMENT

# The first part of a value's id names its group.
GROUPS = {
    "clock": "Clock",
    "pain": "Pain",
    "wall": "Posterior wall, canal and collapse",
    "tumour": "Tumour",
    "infection": "Infection",
    "bleeding": "Bleeding",
    "body": "Body and session",
    "approach": "Approach and implant fit",
    "measures": "Measurement error",
    "change": "Important change of a score",
    "follow_up": "Follow-up",
    "rules": "Rule set",
}


@dataclass(frozen=True, slots=True)
class ValueRow:
    """One number of the protocol."""

    description: str
    value: str
    note: str
    citation: str
    kind: str
    confirm_locally: bool
    is_entered: bool
    since: date
    reviewed_on: date


@dataclass(frozen=True, slots=True)
class ContactRow:
    """One contact of the follow-up, in days from the procedure or the decision."""

    title: str
    window: str
    target: str
    asked: str
    instruments: str


@dataclass(frozen=True, slots=True)
class RuleRow:
    """One rule of the set in force."""

    rule: Rule
    effects: str
    decides: bool


@dataclass(frozen=True, slots=True)
class ProtocolView:
    """The whole page."""

    current: InForce
    groups: tuple[tuple[str, tuple[ValueRow, ...]], ...]
    contacts: tuple[ContactRow, ...]
    rules: tuple[RuleRow, ...]
    to_confirm: int
    to_enter: int

    @property
    def total(self) -> int:
        """How many numbers there are."""
        return sum(len(rows) for _, rows in self.groups)


def protocol_view(current: InForce) -> ProtocolView:
    """Return the protocol as a page; values of an unknown group come last, under "Others"."""
    grouped: dict[str, list[ValueRow]] = {title: [] for title in [*GROUPS.values(), "Others"]}
    for entry in current.values.values:
        grouped[GROUPS.get(entry.id.split(".")[0], "Others")].append(_row(entry))
    return ProtocolView(
        current=current,
        groups=tuple((title, tuple(rows)) for title, rows in grouped.items() if rows),
        contacts=tuple(_contact(t) for t in current.values.timepoints),
        rules=tuple(
            RuleRow(rule, ", ".join(e.words for e in rule.effects), rule.decides)
            for rule in current.rules.rules
        ),
        to_confirm=sum(row.confirm_locally for rows in grouped.values() for row in rows),
        to_enter=sum(entry.value is None for entry in current.values.values),
    )


def _row(entry: ProtocolValue) -> ValueRow:
    kind = SourceKind(entry.source.kind)
    return ValueRow(
        description=entry.description,
        value=entry.words,
        note=entry.note,
        citation=entry.source.citation,
        kind="to be entered here" if entry.value is None else source_kind_words(kind),
        confirm_locally=kind.confirm_locally and entry.value is not None,
        is_entered=entry.value is not None,
        since=entry.valid_from,
        reviewed_on=entry.reviewed_on,
    )


def _contact(timepoint: Timepoint) -> ContactRow:
    names = dict(INSTRUMENT)
    return ContactRow(
        title=timepoint.title,
        window=f"{timepoint.opens_days} to {timepoint.closes_days}",
        target=str(timepoint.target_days),
        asked="yes" if timepoint.asked else "no, only named when it happens",
        instruments="; ".join(names[code].split(",")[0] for code in timepoint.instruments),
    )
