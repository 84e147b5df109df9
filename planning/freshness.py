"""Whether an assessment still stands, and if not, why: in words.

An assessment is current while the same rule set and protocol are in force, the
facts it looked at are the facts of today, and the window has not closed since.
The facts themselves are compared, so that a new row, a correction and a voided
row are all noticed. Rules of a later stage that have come due are told apart.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Final

from planning.models import Assessment
from planning.rules.facts import FACT_NAMES, CaseFacts, fact_info
from planning.rules.outcomes import Stage, listed
from planning.services.protocols import InForce
from register.domain.clock import WindowState, window
from register.domain.days import day_words

# A birthday is no news; these two follow from deciding and planning themselves.
_NO_NEWS: Final = ("age_years", "team_reviewed", "levels_planned")
_LABORATORY: Final = ("inr", "platelets_10e9_l", "crp_mg_l")
_BONE: Final = ("t_score", "attenuation_hu")
_IMAGES: Final = (
    "oedema", "equivalent_fresh", "epidural_grade", "posterior_wall", "retropulsion_mm",
    "canal_percent", "tension_band", "translation", "height_loss_percent", "disc_centred",
    "convex_posterior_border", "pedicle_signal", "posterior_element_signal", "epidural_mass",
    "paraspinal_mass", "other_lesions", "end_plates",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Freshness:
    """Reasons why an assessment no longer stands, as sentences; none when it is current.

    `due` says that rules of a later stage are to be judged; blank when none are.
    """

    reasons: tuple[str, ...]
    due: str = ""

    @property
    def is_current(self) -> bool:
        """True while nothing has changed since."""
        return not self.reasons

    @property
    def words(self) -> str:
        """The reasons and what to do; blank when there is nothing to do."""
        told = [*self.reasons, self.due] if self.due else list(self.reasons)
        return " ".join([*told, "Assess again."]) if told else ""


def freshness(
    assessment: Assessment, *, facts: CaseFacts, stage: Stage, in_force: InForce
) -> Freshness:
    """Compare a stored assessment with the facts, the stage and the protocol of today."""
    reasons = _of_protocol(assessment, in_force)
    try:
        then = CaseFacts.from_json(assessment.facts)
    except (ValueError, KeyError):
        return Freshness((*reasons, "Made by an earlier version of the register."))
    reasons += _of_facts(then, facts)
    reasons += _of_clock(then, facts, in_force.window_days)
    return Freshness(tuple(reasons), _of_stage(Stage(assessment.stage), stage))


def _of_stage(then: Stage, now: Stage) -> str:
    if now.place <= then.place:
        return ""
    return f"Made for {then.words}; rules of {now.words} are due."


def _of_protocol(assessment: Assessment, in_force: InForce) -> list[str]:
    if assessment.protocol_id != in_force.protocol.pk:
        return ["Made under an earlier protocol."]
    if assessment.ruleset_digest != in_force.rules.digest():
        return ["Made with another version of the rules."]
    return []


def _of_facts(then: CaseFacts, now: CaseFacts) -> list[str]:
    changed = [
        name
        for name in FACT_NAMES
        if name not in _NO_NEWS and getattr(then, name) != getattr(now, name)
    ]
    dated = {name: now.dates[name] for name in changed if name in now.dates}
    newer = {n: day for n, day in dated.items() if then.dates.get(n) != day}
    reasons = [
        f"Made before {noun} of {day_words(day)} ({_words(names)})."
        for (noun, day), names in _grouped(newer).items()
    ]
    edited = [name for name in changed if name not in newer]
    if edited:
        reasons.append(f"Made before a change of the record ({_words(edited)}).")
    return reasons


def _grouped(newer: dict[str, date]) -> dict[tuple[str, date], list[str]]:
    groups: dict[tuple[str, date], list[str]] = {}
    for name, day in newer.items():
        groups.setdefault((_noun(name), day), []).append(name)
    return groups


def _noun(name: str) -> str:
    if name in _IMAGES:
        return "the reading"
    if name in _LABORATORY:
        return "the blood test"
    return "the bone density" if name in _BONE else "the referral"


def _words(names: Iterable[str]) -> str:
    """Name up to three facts; more are counted."""
    words = [fact_info(name).words for name in names]
    return listed(words if len(words) <= 3 else [*words[:2], f"{len(words) - 2} more"])


def _of_clock(then: CaseFacts, now: CaseFacts, window_days: int) -> list[str]:
    before, today = (_window_state(facts, window_days) for facts in (then, now))
    if then.onset_on != now.onset_on or before is today or today is None:
        return []
    if today is WindowState.CLOSED:
        return ["The window has closed since."]
    return ["The window may have closed since."] if today is WindowState.UNSURE else []


def _window_state(facts: CaseFacts, window_days: int) -> WindowState | None:
    if facts.onset_on is None:
        return None
    precision = facts.onset_precision or "day"
    return window(facts.onset_on, precision, facts.as_of, window_days=window_days).state
