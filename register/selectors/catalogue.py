"""What the administrator's lists show: techniques, lots, accounts."""

from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Count, Q, QuerySet

from register.models import Site, StockItem, Technique, User

# How long before its last day a lot is marked: common practice, no source.
EXPIRES_SOON = timedelta(days=60)


def techniques_of(site: Site) -> QuerySet[Technique]:
    """Return the techniques, those in use first, each with the `cases` done so far."""
    return (
        Technique.objects.live()
        .filter(site=site)
        .annotate(cases=Count("procedures", filter=Q(procedures__voided_at=None)))
        .annotate(is_used=Q(withdrawn_on=None))
        .order_by("-is_used", "name", "pk")
    )


def stock_of(site: Site) -> QuerySet[StockItem]:
    """Return the lots by kind, name, size and last day."""
    return (
        StockItem.objects.live()
        .filter(site=site)
        .order_by("kind", "name", "size_label", "expires_on", "pk")
    )


def people_of(site: Site) -> QuerySet[User]:
    """Return the accounts of a site, the open ones first."""
    return User.objects.filter(site=site).order_by("-is_active", "last_name", "first_name", "pk")


@dataclass(frozen=True, slots=True)
class StockRow:
    """One lot and what somebody has to do about it."""

    item: StockItem
    word: str
    shape: str
    tone: str


def stock_rows(items: QuerySet[StockItem], *, on: date) -> list[StockRow]:
    """Return the lines of the stock list; the most serious state of a lot is told."""
    return [StockRow(item, *_state(item, on)) for item in items]


def _state(item: StockItem, on: date) -> tuple[str, str, str]:
    if item.recalled_on:
        return "recalled: do not use", "cross", "attention"
    if item.expires_on and item.expires_on < on:
        return "expired: do not use", "cross", "attention"
    if item.expires_on and item.expires_on <= on + EXPIRES_SOON:
        return "expires soon", "triangle", "attention"
    if item.reorder_at is not None and item.quantity <= item.reorder_at:
        return "order", "half", "action"
    return "on the shelf", "full", ""
