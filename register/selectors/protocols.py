"""The protocol that is in force at a site on a day."""

from datetime import date

from django.db.models import Q

from register.domain.protocol import ProtocolValues, shipped
from register.models import Protocol, Site


def protocol_row(*, site: Site, on: date) -> Protocol | None:
    """The agreed protocol with the latest first day that has come; None before the first.

    Agreed is what was approved, and what came with the register (nobody proposed
    it). A proposal that nobody approved is never in force.
    """
    agreed = ~Q(approved_by=None) | Q(proposed_by=None)
    rows = Protocol.objects.live().filter(agreed, site=site, starts_on__lte=on)
    return rows.order_by("-starts_on", "-pk").first()


def values_in_force(*, site: Site, on: date) -> ProtocolValues:
    """The values agreed by the department; the shipped ones until it has a protocol row."""
    row = protocol_row(site=site, on=on)
    return ProtocolValues.from_json(row.values) if row else shipped(on)
