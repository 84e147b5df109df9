"""Two records of one person, side by side: what differs, what is filled, what clashes."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from register.domain.days import NOT_RECORDED
from register.domain.identity import Identity
from register.domain.nhs_number import formatted
from register.domain.vocabulary import ABSENT
from register.models import Fracture, Patient
from register.selectors.identity import identity_for
from register.selectors.relations import clashes_of, links, own_links
from register.selectors.rows_in_words import row_words
from register.templatetags.units import fact

# What is chosen together, so that no address gets another's postcode.
GROUPS: Final[tuple[tuple[str, str, tuple[str, ...]], ...]] = (
    ("name", "Name", ("family_name", "given_name")),
    ("date_of_birth", "Date of birth", ("date_of_birth",)),
    ("sex", "Sex", ("sex",)),
    ("nhs_number", "NHS Number", ("nhs_number",)),
    ("address", "Address", ("address", "postcode")),
    ("care_home", "Care home", ("care_home",)),
    ("kin", "Next of kin or carer", ("kin_name", "kin_relation")),
    (
        "practitioner",
        "General practitioner",
        ("practitioner_name", "practice_name", "practice_address"),
    ),
    ("language", "Language and interpreter", ("language", "interpreter_needed")),
    ("hearing", "Hearing", ("hearing_need",)),
    ("sight", "Sight", ("sight_need",)),
    ("capacity", "Capacity to consent", ("capacity_note",)),
    ("other_use", "Objects to use beyond care and local audit", ("objects_to_other_use",)),
    ("alive", "Last known to be alive", ("alive_checked_on",)),
    (
        "end",
        "Death, or how follow-up ended",
        ("date_of_death", "follow_up_end", "follow_up_ended_on", "follow_up_end_source"),
    ),
)
# What two records of one person should agree on: if not, somebody has to look twice.
_TELLING: Final = ("name", "date_of_birth", "sex", "nhs_number")
_REASONS: Final = dict(ABSENT)
# A fracture that is further on cannot give way to one that only waits.
_FURTHER: Final = {"treated": 2, "listed": 1}


@dataclass(frozen=True, slots=True)
class Compared:
    """One group of fields of both records, and whether a person has to choose."""

    key: str
    label: str
    stay: str
    gone: str
    is_asked: bool
    is_filled: bool
    is_blank: bool

    @property
    def differs(self) -> bool:
        """Whether the two say different things; one may say nothing."""
        return self.stay != self.gone


@dataclass(frozen=True, slots=True)
class Counted:
    """How many rows of one kind each record has; those set aside are counted too."""

    words: str
    stay: int
    gone: int

    @property
    def together(self) -> int:
        """How many there are afterwards: not one fewer."""
        return self.stay + self.gone


@dataclass(frozen=True, slots=True)
class Clash:
    """Two rows that cannot both stand in one record. `row` comes, `there` is there.

    `can_fold` is True when one may take over what hangs on the other. `keep` names
    the end that has to be kept ("stay" or "gone"), '' when either may.
    """

    row: Any
    there: Any
    can_fold: bool
    keep: str

    @property
    def key(self) -> str:
        """The name of the question."""
        return f"{self.row._meta.model_name}-{self.row.pk}-{self.there.pk}"

    @property
    def words(self) -> str:
        """Both, in words."""
        return f"{row_words(self.row)}, and {row_words(self.there)}"


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything the page about two records says."""

    stay: Patient
    gone: Patient
    stay_identity: Identity
    gone_identity: Identity
    compared: tuple[Compared, ...]
    counts: tuple[Counted, ...]
    clashes: tuple[Clash, ...]

    @property
    def asked(self) -> list[Compared]:
        """The groups of which both records have a value, and not the same."""
        return [one for one in self.compared if one.is_asked]

    @property
    def filled(self) -> list[Compared]:
        """The groups that the staying record takes over because it has nothing there."""
        return [one for one in self.compared if one.is_filled]

    @property
    def shown(self) -> list[Compared]:
        """The groups of which at least one record has a value."""
        return [one for one in self.compared if not one.is_blank]

    @property
    def blank(self) -> list[str]:
        """The groups of which neither record has a value."""
        return [one.label for one in self.compared if one.is_blank]

    @property
    def held(self) -> list[Counted]:
        """The kinds of entries of which there is one."""
        return [one for one in self.counts if one.together]

    @property
    def doubts(self) -> list[str]:
        """What speaks against one person: telling fields that differ."""
        return [
            f"{one.label}: {one.stay} here, {one.gone} there"
            for one in self.asked
            if one.key in _TELLING
        ]

    @property
    def blocked(self) -> list[Clash]:
        """Clashes that have to be put right in one of the records first."""
        return [clash for clash in self.clashes if not clash.can_fold]

    @property
    def foldable(self) -> list[Clash]:
        """Clashes that are settled by saying which one is kept."""
        return [clash for clash in self.clashes if clash.can_fold]


def comparison_of(stay: Patient, gone: Patient) -> Comparison:
    """Compare two records. Raises UnknownRelation when not every table is known."""
    return Comparison(
        stay=stay,
        gone=gone,
        stay_identity=identity_for(stay),
        gone_identity=identity_for(gone),
        compared=tuple(_compared(stay, gone, *group) for group in GROUPS),
        counts=_counts(stay, gone),
        clashes=clashes_between(stay, gone),
    )


def clashes_between(stay: Patient, gone: Patient) -> tuple[Clash, ...]:
    """Return the rows of `gone` that a constraint would not let stand beside rows of `stay`."""
    found = []
    for link in own_links(links()):
        for row in link.model._base_manager.filter(**{link.column: gone.pk}).order_by("pk"):
            for there in clashes_of(row, link.field.name, stay.pk):
                found.append(Clash(row, there, isinstance(row, Fracture), _keep(row, there)))
    return tuple(found)


def taken_over(stay: Patient, gone: Patient, chosen: Mapping[str, str]) -> dict[str, Any]:
    """Return the fields of the staying record that change, `absent` and `unusual` included.

    `chosen` maps the key of a group to "stay" or "gone"; a group that is not there
    stays, and what is blank in it is filled as far as the two do not contradict.
    """
    fields: dict[str, Any] = {}
    absent, unusual = dict(stay.absent), dict(stay.unusual)
    for key, _, names in GROUPS:
        takes = chosen.get(key) == "gone"
        fills = takes or _agree(stay, gone, names)
        for name in names:
            mine, theirs = getattr(stay, name), getattr(gone, name)
            if not (takes or (fills and _blank(mine) and not _blank(theirs))):
                if fills and _blank(mine) and name in gone.absent and name not in absent:
                    absent[name] = gone.absent[name]
                continue
            if mine != theirs:
                fields[name] = theirs
            _follow(absent, gone.absent, name)
            _follow(unusual, gone.unusual, name)
    fields |= {"absent": absent} if absent != stay.absent else {}
    return fields | ({"unusual": unusual} if unusual != stay.unusual else {})


def _follow(mine: dict[str, str], theirs: Mapping[str, str], name: str) -> None:
    """Let the reason of a field go with its value."""
    mine.pop(name, None)
    if name in theirs:
        mine[name] = theirs[name]


def _compared(
    stay: Patient, gone: Patient, key: str, label: str, names: tuple[str, ...]
) -> Compared:
    would_fill = any(
        _blank(getattr(stay, name)) and not _blank(getattr(gone, name)) for name in names
    )
    agree = _agree(stay, gone, names)
    return Compared(
        key=key,
        label=label,
        stay=_words(stay, names),
        gone=_words(gone, names),
        is_asked=not agree,
        is_filled=agree and would_fill,
        is_blank=all(_blank(getattr(one, name)) for one in (stay, gone) for name in names),
    )


def _agree(stay: Patient, gone: Patient, names: tuple[str, ...]) -> bool:
    """Whether no field of the group is filled in both and different."""
    pairs = [(getattr(stay, name), getattr(gone, name)) for name in names]
    return all(_blank(mine) or _blank(theirs) or mine == theirs for mine, theirs in pairs)


def _blank(value: Any) -> bool:
    return value is None or value == ""


def _words(patient: Patient, names: tuple[str, ...]) -> str:
    filled = [name for name in names if not _blank(getattr(patient, name))]
    if names == ("family_name", "given_name"):
        return str(patient)
    return ", ".join(_value(patient, name) for name in filled) or str(_plain(patient, names[0]))


def _value(patient: Patient, name: str) -> str:
    told = str(fact(patient, name))
    if name == "nhs_number":
        return formatted(patient.nhs_number)
    if name == "interpreter_needed":
        return f"interpreter needed: {told}"
    return f"died {told}" if name == "date_of_death" else told


def _plain(patient: Patient, name: str) -> str:
    """Return the reason for an empty field, without mark-up."""
    return _REASONS.get(patient.absent.get(name, ""), NOT_RECORDED)


def _counts(stay: Patient, gone: Patient) -> tuple[Counted, ...]:
    found = []
    for link in own_links(links()):
        mine, theirs = (
            link.model._base_manager.filter(**{link.column: one.pk}).count() for one in (stay, gone)
        )
        words = link.relation.many
        found.append(Counted(words[0].upper() + words[1:], mine, theirs))
    return tuple(found)


def _keep(row: Any, there: Any) -> str:
    mine, theirs = (_FURTHER.get(getattr(one, "state", ""), 0) for one in (there, row))
    if mine == theirs:
        return ""
    return "stay" if mine > theirs else "gone"
