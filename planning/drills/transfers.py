"""Merge and move random records, undo each, and compare every table with what stood before."""

from collections.abc import Callable
from functools import partial
from random import Random
from typing import Any, Final

from django.core.exceptions import ValidationError

from planning.drills._people import Department
from register.history import acting
from register.models import Patient, RecordTransfer
from register.selectors.merging import clashes_between
from register.selectors.moving import KINDS, move_plan
from register.selectors.relations import (
    all_models,
    disagreements,
    links,
    own_links,
    path_to_patient,
)
from register.services.transfer_undo import transfer_undo
from register.services.transfers import record_move, records_merge

RUNS: Final = 1000
JOB: Final = "drill"
# Grows with every transfer by design, or is not a record of anybody.
_APART: Final = {"register_recordtransfer", "register_accesslog", "django_session"}
# The refusals that random records may meet: two entries that cannot both be true.
_REASONS: Final = (
    "Put this right first",
    "Both fractures have this entry",
    "has the same already",
    "Nothing of this kind",
)


def run(*, runs: int, seed: int, say: Callable[[str], None]) -> bool:
    """Do `runs` merges and as many moves; True when nothing was lost, torn or left changed."""
    with acting(JOB):
        department = Department(f"Drill {seed}")
    figures = {"merged": 0, "moved": 0, "refused": 0, "lost": 0, "torn": 0, "not restored": 0}
    figures["without reason"] = 0
    used: set[str] = set()
    given: set[str] = set()
    for number in range(runs):
        chance = Random(f"{seed}-{number}")
        with acting(JOB):
            pair = department.record(chance), department.record(chance)
        used |= {table for table, rows in _tables(pair).items() if rows}
        _try(figures, pair, "merged", partial(_merge, home=department, chance=chance))
        given |= _given_by(pair)
        _try(figures, pair, "moved", partial(_move, home=department, chance=chance))
    unused = {link.model._meta.db_table for link in links()} - used
    unused |= {link.model._meta.db_table for link in own_links(links())} - given
    say(", ".join(f"{name} {number}" for name, number in figures.items()))
    say(f"Tables that belong to patients: {len(used)} used, {len(unused)} not: {sorted(unused)}.")
    wrong = ("lost", "torn", "not restored", "without reason")
    bad = sum(figures[name] for name in wrong) + len(unused)
    return bad == 0 and figures["merged"] > 0 and figures["moved"] > 0


def _try(
    figures: dict[str, int],
    pair: tuple[Patient, Patient],
    name: str,
    act: Callable[[Patient, Patient], tuple[RecordTransfer, Any]],
) -> None:
    """Do one act and undo it, and count what is not as it should be."""
    before, counts = _tables(pair), _counts()
    try:
        done, user = act(*(Patient.objects.get(pk=one.pk) for one in pair))
    except ValidationError as error:
        figures["refused"] += 1
        figures["without reason"] += not any(why in error.messages[0] for why in _REASONS)
        figures["not restored"] += _tables(pair) != before
        return
    figures[name] += 1
    figures["lost"] += _counts() != counts
    figures["torn"] += bool(disagreements([one.pk for one in pair], links()))
    transfer_undo(transfer=done, reason="drill", user=user)
    figures["lost"] += _counts() != counts
    figures["not restored"] += _tables(pair) != before


def _given_by(pair: tuple[Patient, Patient]) -> set[str]:
    """Return the tables of which a transfer between the two gave a row to the other."""
    done = RecordTransfer.objects.filter(from_patient__in=pair)
    return {
        entry["table"]
        for rows in done.values_list("rows", flat=True)
        for entry in rows
        if "patient_id" in entry["now"]
    }


def _merge(one: Patient, two: Patient, home: Department, chance: Random) -> tuple[Any, Any]:
    kept = {
        clash.key: clash.keep or chance.choice(["stay", "gone"])
        for clash in clashes_between(one, two)
    }
    groups = ("name", "date_of_birth", "sex", "address", "language")
    done = records_merge(
        stay=one,
        gone=two,
        versions=(one.version, two.version),
        chosen={key: chance.choice(["stay", "gone"]) for key in groups},
        kept=kept,
        reason="drill",
        user=home.user,
    )
    return done, home.user


def _move(one: Patient, two: Patient, home: Department, chance: Random) -> tuple[Any, Any]:
    model = chance.choice([kind for name, kind in KINDS.items() if name != "review"])
    row = model._base_manager.filter(patient=one, voided_at=None).order_by("pk").first()
    if row is None:
        raise ValidationError("Nothing of this kind.")
    answers: dict[str, str] = {}
    while True:
        plan = move_plan(row, two, answers)
        if not plan.open_questions:
            break
        for question in plan.open_questions:
            stays = question.may_stay and chance.random() < 0.5
            answers[question.key] = "stays" if stays else "along"
    done = record_move(
        row=row,
        to=two,
        expected_version=row.version,
        answers=answers,
        digest=plan.digest,
        reason="drill",
        user=home.user,
    )
    return done, home.user


def _tables(pair: tuple[Patient, Patient]) -> dict[str, list[dict[str, Any]]]:
    """Return every row of every table that may belong to these patients, but for the version."""
    among = links()
    found: dict[str, list[dict[str, Any]]] = {
        "register_patient": _rows(Patient._base_manager.filter(pk__in=[one.pk for one in pair]))
    }
    for model in {link.model for link in among}:
        path = path_to_patient(model, among)
        found[model._meta.db_table] = _rows(model._base_manager.filter(**{f"{path}__in": pair}))
    return found


def _rows(rows: Any) -> list[dict[str, Any]]:
    return [
        {name: value for name, value in row.items() if name != "version"}
        for row in rows.order_by("pk").values()
    ]


def _counts() -> dict[str, int]:
    """Return how many rows every table of every app has."""
    return {
        model._meta.db_table: model._base_manager.count()
        for model in all_models()
        if model._meta.db_table not in _APART
    }
