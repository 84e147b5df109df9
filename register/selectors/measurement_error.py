"""How much a measurement may be off: the published bound, or the department's own figure."""

from datetime import date

from register.domain.own_error import bounds_from
from register.domain.protocol import ProtocolValue, ProtocolValues
from register.models import Site
from register.selectors.repeat_readings import measured_again


def with_own_error(values: ProtocolValues, *, site: Site, until: date) -> ProtocolValues:
    """Return a protocol whose bounds of measurement error are the department's own. One query.

    A bound without enough blinded pairs keeps its published value. What is compared with
    these values names the source that stands in them.
    """
    return values.with_entries(own_bounds(values, site=site, until=until))


def own_bounds(values: ProtocolValues, *, site: Site, until: date) -> tuple[ProtocolValue, ...]:
    """Return the bounds that the department has measured itself by the end of a day. One query."""
    return bounds_from(measured_again(site, until=until, blinded_only=True), values, until=until)
