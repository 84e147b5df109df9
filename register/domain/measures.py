"""Heights and angles of a vertebra: ratios, loss, grade, shape, restoration.

Heights are in mm, angles in degrees, losses in percent of the reference height
(0 intact, 100 flat). Decimal in, Decimal out, never clipped: a negative loss or
a restoration above 100 % is shown, because it usually means that two fields or
two postures were mixed up. None is "not measured" or "not defined", never 0.
"""

import math
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from register.domain.calculations import calculation
from register.domain.decimals import Number, exact, exact_positive
from register.domain.levels import above, below
from register.domain.protocol import ProtocolValues

PLACES: Final = ("anterior", "middle", "posterior")
SHAPE_OF: Final = {"anterior": "wedge", "middle": "biconcave", "posterior": "crush"}


@dataclass(frozen=True, slots=True)
class Heights:
    """The three heights of one body in mm; None where not measured."""

    anterior: Decimal | None = None
    middle: Decimal | None = None
    posterior: Decimal | None = None

    def at(self, place: str) -> Decimal | None:
        """Return one of the three. Raises KeyError for another place."""
        return dict(zip(PLACES, (self.anterior, self.middle, self.posterior), strict=True))[place]


# --- ratios -----------------------------------------------------------------


@calculation("wedge_ratio", answer="percent")
def wedge_ratio(anterior_mm: Number, posterior_mm: Number) -> Decimal:
    """Return anterior over posterior height, in percent; 100 is square, less is wedged.

    Formula from memory (Beck 1971); reproduces the group means of J Orthop Surg
    Res 2023, s13018-023-03758-w, Table 1 (read) within half a point. Raises
    ValueError for a height of 0 or less.
    """
    return _ratio(anterior_mm, posterior_mm, "Anterior", "Posterior")


def biconcave_ratio(middle_mm: Number, posterior_mm: Number) -> Decimal:
    """Return middle over posterior height, in percent (published definition, read)."""
    return _ratio(middle_mm, posterior_mm, "Middle", "Posterior")


def crush_ratio(posterior_mm: Number, neighbour_posterior_mm: Number) -> Decimal:
    """Return posterior height over that of a neighbour, in percent (published definition, read)."""
    return _ratio(posterior_mm, neighbour_posterior_mm, "Posterior", "The neighbour's posterior")


def _ratio(part: Number, whole: Number, part_name: str, whole_name: str) -> Decimal:
    return (
        exact_positive(part, f"{part_name} height")
        * 100
        / exact_positive(whole, f"{whole_name} height")
    )


# --- loss against a reference -------------------------------------------------


@dataclass(frozen=True, slots=True)
class Reference:
    """Expected heights in mm, and the levels they were taken from, nearest first above, below."""

    heights: Heights
    levels: tuple[str, ...]


def reference_heights(
    level: str, measured: Mapping[str, Heights], fractured: Collection[str] = ()
) -> Reference | None:
    """Return the mean heights of the nearest intact measured level above and below.

    `fractured` are the levels that do not count: fractured or cemented. With one
    side only that side is taken; None when there is neither. No taper between
    levels is corrected. From memory; there is no single standard, so the levels
    used are returned and belong beside every number made with them.
    """
    intact = {at: h for at, h in measured.items() if at != level and at not in fractured}
    neighbours = [
        at for at in (_nearest(level, above, intact), _nearest(level, below, intact)) if at
    ]
    if not neighbours:
        return None
    columns = ([intact[at].at(place) for at in neighbours] for place in PLACES)
    return Reference(Heights(*(_mean(column) for column in columns)), tuple(neighbours))


def _nearest(
    level: str, step: Callable[[str], str | None], intact: Mapping[str, Heights]
) -> str | None:
    at = step(level)
    while at is not None and at not in intact:
        at = step(at)
    return at


def _mean(column: list[Decimal | None]) -> Decimal | None:
    known = [height for height in column if height is not None]
    return sum(known, Decimal(0)) / len(known) if known else None


@dataclass(frozen=True, slots=True)
class HeightLoss:
    """The largest of three losses. `place` is where; `all_percent` holds what could be computed."""

    percent: Decimal
    place: str
    all_percent: Mapping[str, Decimal]

    @property
    def shape(self) -> str:
        """The shape word: wedge, biconcave or crush; a posterior loss means the whole body.

        Published as figure text (BMC Geriatr 2013;13:116): wedge anterior,
        biconcave middle, compression of the whole body.
        """
        return SHAPE_OF[self.place]


def height_loss_percent(measured_mm: Number, reference_mm: Number) -> Decimal:
    """Return the share of the expected height that is lost, in percent; negative when higher."""
    measured = exact(measured_mm, "The height")
    if measured < 0:
        raise ValueError(f"The height must be 0 or above, not {measured_mm}.")
    return (1 - measured / exact_positive(reference_mm, "The reference height")) * 100


def height_loss(heights: Heights, reference: Heights) -> HeightLoss | None:
    """Return the largest loss among the three places; the foremost one on a tie.

    None when no place has both heights. That the largest counts is from memory.
    """
    losses = {}
    for place in PLACES:
        measured, expected = heights.at(place), reference.at(place)
        if measured is not None and expected is not None:
            losses[place] = height_loss_percent(measured, expected)
    if not losses:
        return None
    place = max(losses, key=lambda p: losses[p])
    return HeightLoss(losses[place], place, losses)


@calculation("genant_grade", answer="grade")
def genant_grade(height_loss_percent: Number) -> int:
    """Return the semiquantitative grade 0 to 3 of a height loss in percent.

    Genant et al., J Bone Miner Res 1993;8:1137 (bands read on a later page):
    20 to 25, 25 to 40, above 40. Both bands claim 25; this project's choice is
    0 below 20, 1 from 20, 2 from 25 up to and including 40, 3 above 40.
    """
    loss = exact(height_loss_percent, "The height loss")
    if loss > 100:
        raise ValueError(f"A height loss lies at 100 % or below, not at {height_loss_percent}.")
    if loss > 40:
        return 3
    if loss >= 25:
        return 2
    return 1 if loss >= 20 else 0


# --- angle ------------------------------------------------------------------


def wedge_angle_deg(anterior_mm: Number, posterior_mm: Number, depth_mm: Number) -> Decimal:
    """Return an estimate of the angle between the end plates, in degrees; positive is wedged.

    2·atan((posterior − anterior) / (2·depth)). Not a published formula: computed
    here, it reproduces published pairs of heights and angles within about 0.8°
    at a depth of 34 mm (J Orthop Surg Res 2023). An angle measured on the image
    goes before it. Rounded to 0.1°.
    """
    anterior = exact_positive(anterior_mm, "Anterior height")
    posterior = exact_positive(posterior_mm, "Posterior height")
    depth = exact_positive(depth_mm, "Depth")
    angle = 2 * math.atan(float((posterior - anterior) / (2 * depth)))
    return Decimal(str(math.degrees(angle))).quantize(Decimal("0.1"))


# --- restoration --------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Restoration:
    """Height gained, in the four published ways; None where a way is not defined."""

    mm: Decimal
    percent_of_initial: Decimal
    percent_of_lost: Decimal | None
    percent_of_reference: Decimal | None


@calculation("height_restoration")
def height_restoration(
    before_mm: Number, after_mm: Number, reference_mm: Number | None = None
) -> Restoration:
    """Return the height gained in mm, of the initial height, of what was lost, of the reference.

    McKiernan, Faciszewski, Jensen, Spine 2003;28:2517 (names read, algebra follows
    from them); apparent size varies almost fourfold, so all four are reported. The share
    of what was lost is not defined when the reference is not above the height
    before; nothing is clipped, and a loss is negative. Both heights must come
    from the same posture: the caller checks that.
    """
    before = exact_positive(before_mm, "The height before")
    after = exact_positive(after_mm, "The height after")
    gained = after - before
    if reference_mm is None:
        return Restoration(gained, gained * 100 / before, None, None)
    reference = exact_positive(reference_mm, "The reference height")
    lost = reference - before
    return Restoration(
        mm=gained,
        percent_of_initial=gained * 100 / before,
        percent_of_lost=gained * 100 / lost if lost > 0 else None,
        percent_of_reference=gained * 100 / reference,
    )


def within_height_error(change_mm: Number, values: ProtocolValues) -> bool:
    """Return whether a change of height in one patient may be measurement error.

    The bound, shipped as 5 mm, was chosen inside a published agreement interval
    (Alanay, Eur Spine J 2007;16:2126); confirm locally. `values` hold the department's own
    figure in its place once that rests on enough repeat readings
    (`register.selectors.measurement_error`). The bound itself is a change.
    """
    return abs(exact(change_mm, "The change")) < values.number("measures.height_error_mm")


def within_angle_error(change_deg: Number, values: ProtocolValues) -> bool:
    """Return whether a change of angle in one patient may be measurement error; shipped as 9°."""
    return abs(exact(change_deg, "The change")) < values.number("measures.angle_error_deg")


def change_words(change: Decimal, unit: str, values: ProtocolValues) -> str:
    """Return a change of a height ("mm") or an angle ("°") with its sign, and what it may mean."""
    is_length = unit == "mm"
    within = (
        within_height_error(change, values) if is_length else within_angle_error(change, values)
    )
    sign = "+" if change > 0 else "\N{MINUS SIGN}" if change < 0 else ""
    words = f"{sign}{abs(change)}{' mm' if is_length else unit}"
    return f"{words}, within measurement error" if within else words


# --- bone density -------------------------------------------------------------


@calculation("t_score_class", answer="class")
def t_score_class(t_score: Number) -> str:
    """Return normal (from -1.0), low_bone_mass, or osteoporosis (-2.5 and below).

    World Health Organization classes; the last bound read on a secondary page, the
    first from memory.
    """
    score = exact(t_score, "The T-score")
    if score <= Decimal("-2.5"):
        return "osteoporosis"
    return "normal" if score >= -1 else "low_bone_mass"
