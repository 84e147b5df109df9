"""Stock: one row per lot of one size."""

from typing import Any

from register.history import acting
from register.models import Site, StockItem, User
from register.services.editing import update_row


def stock_create(*, site: Site, user: User, **fields: Any) -> StockItem:
    """Put a lot on the shelf. Raises ValidationError, also when the lot is there already."""
    with acting(user, "Stock added"):
        item = StockItem(site=site, **fields)
        item.full_clean()
        item.save()
    return item


def stock_change(*, item: StockItem, expected_version: int, user: User, **fields: Any) -> StockItem:
    """Correct a lot: its quantity, its expiry, a recall. Raises EditConflict, ValidationError."""
    with acting(user, "Stock changed"):
        for name, value in fields.items():
            setattr(item, name, value)
        update_row(item, expected_version=expected_version, fields=list(fields))
    return item
