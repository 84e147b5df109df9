"""Measured vertebral bodies: normal heights by sex and level, and what a fracture makes of them.

Heights in mm. Thoracic means: Kunkel 2011 (J Anat 219:375, Table 2; read as a
transcription), pooled sexes; T12 to L2 by sex: Duman 2026; L3 to L5: Bonczar
2024 (both read as a transcription). Women 3 % below and men 3 % above a pooled
mean, depth by level and the middle height are from memory or invented: demo only.
"""

import math
from dataclasses import dataclass, replace
from decimal import Decimal
from random import Random
from typing import Any, Final

from register.domain.levels import THORACIC, TREATABLE_CODES
from reports.demo import parameters
from reports.demo.book import between, tenth

_ANTERIOR: Final = dict(
    zip(
        TREATABLE_CODES,
        (14.49, 15.01, 15.65, 15.42, 15.84, 16.04, 15.94, 16.99, 18.26, 18.98, 19.60, 20.80,
         24.54, 25.75, 26.83, 26.86, 27.44),
        strict=True,
    )
)  # fmt: skip
_POSTERIOR: Final = dict(
    zip(
        TREATABLE_CODES,
        (15.28, 16.11, 17.41, 18.15, 17.33, 18.22, 18.67, 20.05, 20.25, 20.35, 22.67, 23.12,
         26.57, 27.02, 26.67, 25.76, 24.11),
        strict=True,
    )
)  # fmt: skip
_BY_SEX: Final = {
    "female": {"T12": (21.09, 22.19), "L1": (22.56, 23.57), "L2": (23.85, 24.68)},
    "male": {"T12": (23.61, 24.83), "L1": (24.78, 25.94), "L2": (26.31, 27.12)},
}
_DEPTH: Final = dict(
    zip(
        TREATABLE_CODES,
        (18.5, 19.6, 22.7, 23.3, 24.3, 26.0, 27.4, 27.9, 29.3, 30.5, 31.9, 32.8,
         34.1, 34.6, 35.2, 35.5, 34.7),
        strict=True,
    )
)  # fmt: skip
_WIDTH: Final = {"T12": 35.8, "L1": 38.6, "L2": 41.0, "L3": 42.9, "L4": 45.0, "L5": 47.4}
# Lien 2007, 15 spines (lumbar); Zindrick 1987 for the thoracic ones, from memory.
_PEDICLE: Final = {
    "T5": 4.5, "T6": 5.2, "T7": 5.3, "T8": 5.9, "T9": 6.1, "T10": 6.3, "T11": 7.8, "T12": 7.1,
    "L1": 6.4, "L2": 7.4, "L3": 9.3, "L4": 11.6, "L5": 17.5,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Body:
    """One vertebral body: front, middle and back height and depth, in mm."""

    anterior: float
    middle: float
    posterior: float
    depth: float

    @property
    def wedge_angle_deg(self) -> float:
        """The angle between the end plates; positive for kyphosis."""
        return math.degrees(math.atan((self.posterior - self.anterior) / self.depth))

    def fields(self, rng: Random) -> dict[str, Decimal]:
        """Return the heights as somebody measured them, with the error of measuring."""
        noise = parameters.HEIGHT_NOISE_MM.value
        measured = [
            max(rng.gauss(height, noise), 3.0)
            for height in (self.anterior, self.middle, self.posterior, self.depth)
        ]
        names = ("anterior_height_mm", "middle_height_mm", "posterior_height_mm", "depth_mm")
        return {name: tenth(value) for name, value in zip(names, measured, strict=True)}


def intact(level: str, sex: str, factor: float) -> Body:
    """Return the body as it was before it broke; `factor` is the person's size."""
    pooled = factor * (0.97 if sex == "female" else 1.03)
    front, back = _ANTERIOR[level] * pooled, _POSTERIOR[level] * pooled
    if level in _BY_SEX[sex]:
        front, back = (factor * height for height in _BY_SEX[sex][level])
    return Body(front, (front + back) / 2 * 0.94, back, _DEPTH[level] * pooled)


def broken(body: Body, loss: float, *, wedge: bool) -> Body:
    """Return the body after it lost a share of its height, in front or in the middle."""
    front, middle = (loss, 0.75 * loss) if wedge else (0.45 * loss, loss)
    back = max(0.0, loss - 0.35) * 0.5
    return replace(
        body,
        anterior=body.anterior * (1 - front),
        middle=body.middle * (1 - middle),
        posterior=body.posterior * (1 - back),
    )


def loaded(body: Body) -> Body:
    """Return a broken body as it looks standing: a little lower than lying; invented."""
    return replace(body, anterior=body.anterior * 0.96, middle=body.middle * 0.97)


def lifted(body: Body, normal: Body, gain_mm: tuple[float, float, float]) -> Body:
    """Return the body after a procedure; never higher than it was before it broke."""
    front, middle, back = gain_mm
    return replace(
        body,
        anterior=min(body.anterior + front, normal.anterior * 0.97),
        middle=min(body.middle + middle, normal.middle * 0.97),
        posterior=min(body.posterior + back, normal.posterior),
    )


def sunk(body: Body, loss_mm: float) -> Body:
    """Return the body after it lost some mm in front and in the middle."""
    return replace(body, anterior=body.anterior - loss_mm, middle=body.middle - 0.8 * loss_mm)


def width_mm(level: str) -> Decimal | None:
    """Return the usual width of a body; None where the demo keeps none."""
    return tenth(_WIDTH[level]) if level in _WIDTH else None


def pedicle_widths(level: str, rng: Random) -> dict[str, Any]:
    """Return pedicle widths of both sides, in mm; empty where the demo keeps none."""
    if level not in _PEDICLE:
        return {}
    usual = _PEDICLE[level] * (1.0 if level in THORACIC else 1.05)
    return {
        f"pedicle_width_{side}_mm": tenth(between(rng, usual, 0.8, 2.5, 24.0))
        for side in ("left", "right")
    }
