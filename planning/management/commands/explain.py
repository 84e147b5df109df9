"""Print the reasoning for one fracture as text. Nothing is stored, nobody is named."""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.timezone import localdate

from planning.evidence import evidence_of
from planning.explaining import explanation
from planning.facts import facts_from
from planning.rules.answer import overall
from planning.rules.outcomes import Stage
from planning.rules.what_if import what_would_change
from planning.services.protocols import in_force
from planning.stages import stage_of
from register.domain.days import day_words
from register.models import Fracture


class Command(BaseCommand):
    """explain FRACTURE [--on 2027-03-07] [--stage decision]"""

    help = "Print one case's reasoning: every rule, what it looked at, what would change it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("fracture", type=int, help="number of the fracture in the register")
        parser.add_argument("--on", type=date.fromisoformat, help="the day, as 2027-03-07")
        parser.add_argument("--stage", choices=[stage.value for stage in Stage])

    def handle(self, *, fracture: int, on: date | None, stage: str | None, **options: Any) -> None:
        found = Fracture.objects.live().select_related("patient__site").filter(pk=fracture).first()
        if found is None:
            raise CommandError(
                f"There is no fracture {fracture}. Its number stands in the address of its record."
            )
        day = on or localdate()
        evidence = evidence_of(found, on=day)
        facts, current = facts_from(evidence, on=day), in_force(found.patient.site, day)
        judged_at = Stage(stage) if stage else stage_of(evidence, on=day)
        results = current.rules.evaluate(facts, current.values, stage=judged_at)
        changes = what_would_change(current.rules, facts, current.values, stage=judged_at)
        heading = (
            f"Fracture {found.pk}, {found.level}, on {day_words(day)}, for {judged_at.words}; "
            f"{current.rules.title}; {current.protocol.name}"
        )
        self.stdout.write(explanation(overall(results), results, changes, heading=heading))
