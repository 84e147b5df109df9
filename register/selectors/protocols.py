"""The protocol that is in force at a site on a day."""

from collections.abc import Iterable
from datetime import date

from django.db.models import Q, QuerySet

from register.domain.protocol import ProtocolValues, shipped
from register.models import Protocol, Site


def protocol_row(*, site: Site, on: date) -> Protocol | None:
    """The agreed protocol with the latest first day that has come; None before the first.

    Agreed is what was approved, and what came with the register (nobody proposed
    it). A proposal that nobody approved is never in force.
    """
    return _agreed(site.pk).filter(starts_on__lte=on).order_by("-starts_on", "-pk").first()


def _agreed(site_id: int) -> QuerySet[Protocol]:
    agreed = ~Q(approved_by=None) | Q(proposed_by=None)
    return Protocol.objects.live().filter(agreed, site=site_id)


def values_in_force(*, site: Site, on: date) -> ProtocolValues:
    """The values agreed by the department; the shipped ones until it has a protocol row."""
    row = protocol_row(site=site, on=on)
    return ProtocolValues.from_json(row.values) if row else shipped(on)


def values_in_force_on(site_id: int, days: Iterable[date]) -> dict[date, ProtocolValues]:
    """The values agreed on each of some days, as `values_in_force` has them. One query."""
    rows = list(_agreed(site_id).order_by("starts_on", "pk"))
    agreed = [(row.starts_on, ProtocolValues.from_json(row.values)) for row in rows]
    found = {}
    for day in set(days):
        begun = [values for starts_on, values in agreed if starts_on <= day]
        found[day] = begun[-1] if begun else shipped(day)
    return found
