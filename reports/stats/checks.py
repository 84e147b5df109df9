"""Refusals shared by the statistics: what a count, a sample and a confidence may be."""

import math
from collections.abc import Sequence


def check_counts(events: int, total: int) -> None:
    """Refuse counts that cannot be: events must be whole, from 0 to a total of at least 1."""
    whole = all(isinstance(n, int) and not isinstance(n, bool) for n in (events, total))
    if not whole or not 0 <= events <= total or total < 1:
        raise ValueError(
            f"A proportion needs whole counts with 0 <= events <= total and a total of at "
            f"least 1; got {events} of {total}."
        )


def check_confidence(confidence: float) -> None:
    """Refuse a confidence that is not a fraction strictly between 0 and 1 (0.95 for 95 %)."""
    if not isinstance(confidence, float) or not 0 < confidence < 1:
        raise ValueError(f"The confidence is a fraction such as 0.95; got {confidence!r}.")


def check_sample(values: Sequence[float]) -> None:
    """Refuse an empty sample and values that are not finite numbers.

    A missing value is left out by the caller, who also counts it; None is
    refused here so that it can never be read as zero.
    """
    if not values:
        raise ValueError("The sample is empty; say in words that there is nothing to average.")
    for value in values:
        number = isinstance(value, (int, float)) and not isinstance(value, bool)
        if not number or not math.isfinite(value):
            raise ValueError(
                f"A sample holds finite numbers only, missing ones left out and counted; "
                f"got {value!r}."
            )
