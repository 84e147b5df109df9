"""The relations between rows as the installed models have them, checked against what is declared.

Nothing here is a list of tables: the models of every installed app are walked.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Final

from django.apps import apps
from django.db.models import F, Model, Q
from django.utils.module_loading import module_has_submodule

from register.domain.relations import Bond, Relation
from register.models import Patient

_BINDING: Final = (Bond.FOLLOWS, Bond.AGREES)
Kind = type[Model]
Members = dict[Kind, set[int]]


@dataclass(frozen=True, slots=True)
class Link:
    """One foreign key between rows that belong to patients."""

    model: Kind
    field: Any
    target: Kind
    relation: Relation

    @property
    def column(self) -> str:
        """The attribute that holds the key."""
        return str(self.field.attname)

    @property
    def may_end(self) -> bool:
        """Whether the row can stand without it."""
        return bool(self.field.null)


class UnknownRelation(Exception):
    """A table hangs on patients in a way that nobody declared: no row may change hands."""

    def __init__(self, names: Iterable[str]) -> None:
        self.names = tuple(names)
        super().__init__(
            "The register holds a kind of record that this page does not know how to give to "
            f"another patient ({', '.join(self.names)}). Nothing was done. Tell whoever looks "
            "after the register."
        )


def declared() -> dict[str, Relation]:
    """Return the relations that the installed apps declare, by "app.Model.field"."""
    found: dict[str, Relation] = {}
    for config in apps.get_app_configs():
        if config.module is not None and module_has_submodule(config.module, "relations"):
            module = import_module(f"{config.name}.relations")
            found |= getattr(module, "RELATIONS", {})
    return found


def all_models() -> list[Kind]:
    """Every table of every installed app, those between two tables included."""
    return list(apps.get_models(include_auto_created=True))


def label_of(field: Any) -> str:
    """Return "app.Model.field"."""
    meta = field.model._meta
    return f"{meta.app_label}.{meta.object_name}.{field.name}"


def links() -> list[Link]:
    """Return the declared links between rows that belong to patients.

    Raises UnknownRelation when a table points at such a row and nobody said how.
    """
    known, unknown = _walk(all_models(), declared())
    if unknown:
        raise UnknownRelation(unknown)
    return known


def unknown_relations() -> list[str]:
    """Return what `links` would refuse, by "app.Model.field"."""
    return _walk(all_models(), declared())[1]


def _walk(models: list[Kind], said: dict[str, Relation]) -> tuple[list[Link], list[str]]:
    """Follow foreign keys back from the patient until nothing new belongs to one."""
    carriers: set[Any] = {Patient}
    found: dict[str, Link] = {}
    while True:
        before = len(carriers)
        for field, target in _keys(models):
            relation = said.get(label_of(field))
            if target in carriers and relation and relation.bond is not Bond.APART:
                carriers.add(field.model)
                found[label_of(field)] = Link(field.model, field, target, relation)
        if len(carriers) == before:
            break
    keys = [(label_of(field), target) for field, target in _keys(models)]
    unknown = [label for label, target in keys if target in carriers and label not in said]
    anywhere = [
        label_of(field)
        for model in models
        for field in model._meta.private_fields
        if getattr(field, "ct_field", None) and getattr(field, "fk_field", None)
    ]
    return list(found.values()), sorted({*unknown, *anywhere})


def _keys(models: list[Kind]) -> Iterator[tuple[Any, Kind]]:
    """Yield every foreign key and many-to-many field with the table it points at."""
    for model in models:
        for field in (*model._meta.local_fields, *model._meta.local_many_to_many):
            target: Any = field.related_model
            if target is not None:
                yield field, target._meta.concrete_model


def own_links(among: list[Link]) -> list[Link]:
    """Return the links that name the patient, in the order of their declaration."""
    order = list(declared())
    own = [link for link in among if link.relation.bond is Bond.OWN]
    return sorted(own, key=lambda link: order.index(label_of(link.field)))


def binding_links(among: list[Link]) -> list[Link]:
    """Return the links of which both ends have to be of the same patient."""
    return [link for link in among if link.relation.bond in _BINDING]


def path_to_patient(model: Kind, among: list[Link]) -> str:
    """Return the lookup from a row to its patient: "level__procedure__patient"."""
    link = next(
        found
        for bond in (Bond.OWN, Bond.PART)
        for found in among
        if found.model is model and found.relation.bond is bond
    )
    if link.relation.bond is Bond.OWN:
        return str(link.field.name)
    return f"{link.field.name}__{path_to_patient(link.target, among)}"


def with_parts(roots: Members, among: list[Link]) -> Members:
    """Return rows of patients with all that is part of them."""
    found: Members = defaultdict(set)
    fresh = {model: set(keys) for model, keys in roots.items() if keys}
    while fresh:
        for model, keys in fresh.items():
            found[model] |= keys
        reached: Members = defaultdict(set)
        for link in among:
            if link.relation.bond is Bond.PART and link.target in fresh:
                rows = link.model._base_manager.filter(**{f"{link.column}__in": fresh[link.target]})
                reached[link.model] |= set(rows.values_list("pk", flat=True)) - found[link.model]
        fresh = {model: keys for model, keys in reached.items() if keys}
    return found


def root_of(row: Any, among: list[Link]) -> Any:
    """Return the row of the patient's own that a row is part of; itself when it is one."""
    part = next(
        (x for x in among if x.model is type(row) and x.relation.bond is Bond.PART),
        None,
    )
    return row if part is None else root_of(getattr(row, part.field.name), among)


@dataclass(frozen=True, slots=True)
class Crossing:
    """A link of which one end goes and the other stays.

    `row` points at `target`; `stays` is the patient's own row at the end that stays,
    `coming` whether that is the end that points.
    """

    link: Link
    row: Any
    target: Any
    stays: Any
    coming: bool

    @property
    def goes_along(self) -> bool:
        """Whether the end that stays goes along by itself."""
        return self.coming and self.link.relation.bond is Bond.FOLLOWS


def crossings(members: Members, among: list[Link]) -> list[Crossing]:
    """Return the links that a move of these rows would tear.

    A row that was set aside tears nothing, except that what follows by itself follows
    even then.
    """
    found = []
    for link in binding_links(among):
        here, there = members.get(link.model, set()), members.get(link.target, set())
        if not here and not there:
            continue
        rows: Any = link.model._base_manager.select_related(link.field.name)
        leaving = Q(pk__in=here) & ~Q(**{f"{link.column}__in": there})
        coming = ~Q(pk__in=here) & Q(**{f"{link.column}__in": there})
        for row in rows.filter(Q(**{f"{link.column}__isnull": False}) & (leaving | coming)):
            target, root = getattr(row, link.field.name), root_of(row, among)
            is_coming = row.pk not in here
            stays = root if is_coming else root_of(target, among)
            crossing = Crossing(link, row, target, stays, is_coming)
            if crossing.goes_along or (row.voided_at is None and root.voided_at is None):
                found.append(crossing)
    return found


def disagreements(patients: Iterable[int], among: list[Link]) -> set[tuple[str, int]]:
    """Return live rows that point at a row of another patient, as (table, key).

    Looked for among the rows of the given patients. Empty in a register that is in order.
    """
    ids, found = list(patients), set()
    for link in binding_links(among):
        mine = path_to_patient(link.model, among)
        theirs = f"{link.field.name}__{path_to_patient(link.target, among)}"
        root = mine.removesuffix("patient")
        rows = (
            link.model._base_manager.filter(
                Q(**{f"{mine}__in": ids}) | Q(**{f"{theirs}__in": ids}),
                **{f"{link.column}__isnull": False, "voided_at": None, f"{root}voided_at": None},
            )
            .exclude(**{mine: F(theirs)})
            .values_list("pk", flat=True)
        )
        found |= {(link.model._meta.db_table, key) for key in rows}
    return found


def clashes_of(row: Any, column: str, value: int) -> list[Any]:
    """Return the rows that a unique constraint would not let stand beside this one.

    That is when its `column` (the name of a foreign key) became `value`. An empty
    column clashes with nothing, as in the database.
    """
    found: dict[int, Any] = {}
    rows = type(row)._base_manager
    for constraint in row._meta.constraints:
        fields = list(getattr(constraint, "fields", ()))
        if column not in fields:
            continue
        same = {name: getattr(row, name) for name in fields if name != column}
        condition = constraint.condition or Q()
        if None in same.values() or not rows.filter(condition, pk=row.pk).exists():
            continue
        others = rows.filter(condition, **same, **{column: value}).exclude(pk=row.pk)
        found |= {other.pk: other for other in others}
    return list(found.values())
