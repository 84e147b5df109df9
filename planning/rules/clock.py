"""Rules on the age of the fracture. Its limit is amber: it prompts a decision, nothing more."""

from datetime import date
from decimal import Decimal

from planning.rules.core import rule
from planning.rules.outcomes import Effect, Outcome, Stage, caution, speaks_for, undecided
from register.domain.clock import WindowState, onset_range, window
from register.domain.days import day_words


@rule(
    id="CLOCK-01",
    version=1,
    title="Fracture inside the treatment window",
    stage=Stage.TRIAGE,
    effect=Effect.CAUTIONS,
    also=(Effect.SUPPORTS,),
    sources=("commissioning-2025", "vapour"),
    parameters={"window_days": "clock.window_days"},
    decides=True,
)
def fracture_is_inside_the_window(
    *, as_of: date, onset_on: date, onset_precision: str | None, window_days: Decimal
) -> Outcome:
    """Met up to and including the last day of the window, for the whole range of the onset.

    English commissioning says "usually not more than six weeks": later is a
    caution, never more. An onset known only to the month may straddle the bound.
    """
    if onset_range(onset_on, onset_precision or "day")[0] > as_of:
        return undecided(
            "onset_on",
            sentence=f"Onset {day_words(onset_on)} lies after {day_words(as_of)}: check both days.",
        )
    now = window(onset_on, onset_precision or "day", as_of, window_days=int(window_days))
    assert now.age is not None
    closing = day_words(now.closes_on)
    bound = f"the window, usually {window_days} days from the onset,"
    said = f"The fracture is {now.age.words} old; {bound}"
    if now.state is WindowState.CLOSED:
        return caution(f"{said} closed on {day_words(now.closes_on_latest)}.")
    if now.state is WindowState.UNSURE:
        return caution(f"{said} may have closed on {closing}.")
    return speaks_for(f"{said} closes on {closing}.")
