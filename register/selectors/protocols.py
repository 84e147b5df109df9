"""The protocol that is in force at a site on a day."""

from datetime import date

from register.domain.protocol import ProtocolValues, shipped
from register.models import Protocol, Site


def protocol_row(*, site: Site, on: date) -> Protocol | None:
    """The newest approved protocol of the site that had begun; None before the first."""
    return (
        Protocol.objects.live()
        .filter(site=site, starts_on__lte=on, approved_on__isnull=False)
        .order_by("-starts_on", "-pk")
        .first()
    )


def protocol_in_force(*, site: Site, on: date) -> ProtocolValues:
    """The values agreed by the department; the shipped ones until it has approved its own."""
    row = protocol_row(site=site, on=on)
    return ProtocolValues.from_json(row.values) if row else shipped(on)
