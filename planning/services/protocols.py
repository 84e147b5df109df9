"""The protocol of a department: which numbers and which rule set are in force on a day."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.utils.timezone import localdate

from planning.rules.rulesets import RuleSet, protocol_digest, ruleset
from register.domain.protocol import ProtocolValues, shipped
from register.history import acting
from register.models import Protocol, Site
from register.selectors.protocols import protocol_row

SHIPPED_NAME: Final = "Shipped protocol"
# The first day of the shipped values; they stand until a department approves its own.
SHIPPED_FROM: Final = date(2020, 1, 1)


@dataclass(frozen=True, slots=True)
class InForce:
    """A protocol as stored, with its values and its rule set ready for use."""

    protocol: Protocol
    values: ProtocolValues
    rules: RuleSet

    @property
    def window_days(self) -> int:
        """Days from the onset to the last day of the treatment window."""
        return self.values.days("clock.window_days")


def protocol_in_force(site: Site, on: date) -> Protocol:
    """Return the approved protocol with the latest first day that has come.

    A proposal that nobody approved is never in force. A department without any
    protocol gets the shipped one, once.
    """
    return protocol_row(site=site, on=on) or protocol_install_shipped(site=site)


def in_force(site: Site, on: date) -> InForce:
    """Return the protocol in force with its values and its rule set."""
    return opened(protocol_in_force(site, on))


def opened(protocol: Protocol) -> InForce:
    """Read a stored protocol. Raises ProtocolError or LookupError when it cannot be used."""
    values = ProtocolValues.from_json(protocol.values)
    return InForce(protocol, values, ruleset(values.ruleset_id))


def protocol_install_shipped(*, site: Site) -> Protocol:
    """Store the shipped values as the department's first protocol; the same row every time."""
    with acting("protocol", "Shipped protocol installed"):
        Site.objects.select_for_update().get(pk=site.pk)
        shipped_before = Protocol.objects.filter(site=site, proposed_by=None, name=SHIPPED_NAME)
        return shipped_before.first() or _store(site, shipped(localdate()))


def _store(site: Site, values: ProtocolValues) -> Protocol:
    rules = ruleset(values.ruleset_id)
    protocol = Protocol(
        site=site,
        name=SHIPPED_NAME,
        starts_on=SHIPPED_FROM,
        values=values.as_json(),
        ruleset_id=rules.id,
        ruleset_digest=rules.digest(),
        digest=protocol_digest(values),
        reason="The values that come with the register, until the department approves its own.",
    )
    protocol.full_clean()
    protocol.save()
    return protocol
