"""Published rule sets: which rules in which version. A published set never changes.

To change a rule, add its next version and a new set, then lock that one. The
numbers come from the protocol of the department; the digest covers everything
declared, the lock file (planning.rules.lock) also the answers to boundary cases.
"""

import hashlib
import json
from dataclasses import dataclass
from datetime import date
from typing import Final

from planning.rules import (
    bleeding,
    body,
    clock,
    healing,
    infection,
    neurology,
    pain,
    tumour,
    wall_and_canal,
)
from planning.rules.core import Result, Rule, evaluate
from planning.rules.facts import CaseFacts
from planning.rules.outcomes import Stage
from register.domain.protocol import ProtocolValues


@dataclass(frozen=True)
class RuleSet:
    """A named, dated set of rules. `starts_on` is its first day and the day of its lock."""

    id: str
    title: str
    starts_on: date
    rules: tuple[Rule, ...]

    def digest(self) -> str:
        """Return the SHA-256 of everything declared: rules, inputs, sources, effects."""
        content = {"id": self.id, "rules": [rule.declared() for rule in self.rules]}
        return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()

    def evaluate(
        self, facts: CaseFacts, values: ProtocolValues, *, stage: Stage
    ) -> tuple[Result, ...]:
        """Judge every rule for one case, in the order of the set."""
        return tuple(evaluate(rule, facts, values, stage=stage) for rule in self.rules)


_COMMON: Final = (
    neurology.no_neurological_deficit,
    neurology.cord_is_free,
    infection.no_infection,
    infection.change_is_not_centred_on_the_disc,
    tumour.no_strong_sign_of_a_tumour,
    tumour.no_cancer_known,
    tumour.level_is_usual,
    tumour.not_the_lower_plate_alone,
    clock.fracture_is_inside_the_window,
    healing.bone_is_unhealed,
    pain.pain_comes_from_this_level,
    pain.pain_goes_on_despite_analgesia,
    pain.pain_is_not_improving,
    wall_and_canal.posterior_wall_is_intact,
    wall_and_canal.canal_is_not_narrowed,
    wall_and_canal.tension_band_holds,
    wall_and_canal.collapse_leaves_room,
    tumour.fracture_is_explained,
    infection.crp_is_not_raised,
    bleeding.inr_allows_a_needle,
    bleeding.platelets_are_enough,
    bleeding.antithrombotics_can_be_handled,
    body.not_pregnant,
    body.no_allergy_to_cement,
    body.no_allergy_to_contrast,
    body.not_too_many_levels,
)

# Oldest first; the protocol value rules.set names the one in use.
RULESETS: Final = (
    RuleSet(
        id="appraisal-1",
        title="National appraisal of 2013, with the common cautions",
        starts_on=date(2026, 11, 25),
        rules=(pain.pain_is_severe, *_COMMON),
    ),
    RuleSet(
        id="commissioning-1",
        title="English commissioning, with the common cautions",
        starts_on=date(2026, 11, 25),
        rules=(
            pain.pain_is_severe,
            pain.pain_reaches_the_commissioned_bound,
            *_COMMON,
            body.team_and_bone_plan,
        ),
    ),
)


def ruleset(id: str) -> RuleSet:
    """Return a published set. Raises LookupError naming the known ones."""
    for known in RULESETS:
        if known.id == id:
            return known
    raise LookupError(f"No rule set {id!r}; published are {', '.join(s.id for s in RULESETS)}.")


def protocol_digest(values: ProtocolValues) -> str:
    """Return what an assessment points to: SHA-256 over rule-set digest and values."""
    both = ruleset(values.ruleset_id).digest() + values.digest()
    return hashlib.sha256(both.encode()).hexdigest()
