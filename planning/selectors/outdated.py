"""Waiting fractures that are to be assessed, for the first time or again."""

from collections.abc import Iterator
from datetime import date
from typing import Final

from planning.evidence import evidence_of_many
from planning.facts import facts_from
from planning.freshness import freshness
from planning.selectors.waiting import waiting_fractures
from planning.selectors.waiting_rows import newest_assessments
from planning.services.protocols import in_force
from planning.stages import stage_of
from register.models import Fracture, Site

CHUNK: Final = 200


def fractures_to_assess(site: Site, *, on: date) -> Iterator[Fracture]:
    """Yield waiting fractures without an assessment that still stands, in the order of the list.

    A fixed number of queries for every 200 fractures. Rules of a later stage that
    have come due are no reason: they wait for a person.
    """
    current = in_force(site, on)
    waiting = list(waiting_fractures(site, on=on, current=current))
    for start in range(0, len(waiting), CHUNK):
        chunk = waiting[start : start + CHUNK]
        evidence = evidence_of_many(chunk, on=on)
        assessments = newest_assessments(chunk)
        for fracture in chunk:
            made, found = assessments.get(fracture.pk), evidence[fracture.pk]
            if (
                made is None
                or not freshness(
                    made,
                    facts=facts_from(found, on=on),
                    stage=stage_of(found, on=on),
                    in_force=current,
                ).is_current
            ):
                yield fracture
