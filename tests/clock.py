"""A day on which the clock stands still."""

from datetime import UTC, date, datetime

import pytest
from django.utils import timezone


def stop_clock(monkeypatch: pytest.MonkeyPatch, day: date) -> None:
    """Let it be noon of `day` for everything that asks Django for the time."""
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC)
    monkeypatch.setattr(timezone, "now", lambda: noon)
