"""How a patient fared: every contact of each treatment, and the heights of its levels."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from django.db.models import Prefetch
from django.utils.timezone import localtime

from register.domain.comparing import WHY_NOT, nearest_comparable, why_not_comparable
from register.domain.days import NOT_RECORDED, day_words
from register.domain.drawing.timeline import Band, Dot, Panel, Timeline
from register.domain.measures import change_words
from register.domain.protocol import ProtocolValues
from register.domain.scores import INSTRUMENTS
from register.domain.timepoints import ContactState
from register.domain.vocabulary import ABSENT, INFORMANT, POSTURE, RED_FLAG, codes, words_for
from register.models import Measurement, Patient, Review, Score
from register.selectors.circumstances import circumstances_of, posture_of
from register.selectors.review_pages import follows_words, held_words, title_of, with_lines
from register.tables import Column, Table

DRAWN = ("pain_moving", "pain_now", "disability_24")
# Images taken longer before the treatment do not belong to its course: common practice.
DAYS_BEFORE = 90
# The height panel's ends in mm hold the bodies from T1 to L5: common practice.
HEIGHT_ENDS = (0, 40)
_MARKS = {"standing": "full", "sitting": "full", "": "diamond"}


@dataclass(frozen=True, slots=True)
class Course:
    """One treatment with its figure and the same numbers as tables."""

    heading: str
    counted_from: str
    timeline: Timeline
    contacts: Table
    heights: Table | None
    height_note: str


def courses_of(patient: Patient, *, protocol: ProtocolValues, on: date) -> list[Course]:
    """Return the courses of a patient, the newest treatment first."""
    reviews = with_lines(Review.objects.live().filter(patient=patient)).prefetch_related(
        Prefetch("scores", Score.objects.live())
    )
    measured = list(
        Measurement.objects.live()
        .filter(
            reading__fracture__patient=patient,
            reading__voided_at=None,
            reading__study__voided_at=None,
            anterior_height_mm__isnull=False,
            marking__repeats=None,
        )
        .select_related("reading__study", "reading__fracture")
        .order_by("reading__study__performed_on", "pk")
    )
    ordered = reviews.order_by("-anchor_on", "procedure", "fracture", "target_on", "pk")
    treatments = groupby(ordered, key=lambda one: (one.procedure_id, one.fracture_id))
    return [_course(list(contacts), measured, protocol, on) for _, contacts in treatments]


def _course(
    reviews: list[Review], measured: Iterable[Measurement], protocol: ProtocolValues, on: date
) -> Course:
    first = reviews[0]
    levels = _fractures(first)
    heights = [
        one
        for one in measured
        if one.reading.fracture_id in levels
        and (one.reading.study.performed_on - first.anchor_on).days >= -DAYS_BEFORE
    ]
    panels = [_score_panel(code, reviews, protocol, on) for code in DRAWN]
    panels += _height_panels(heights, first.anchor_on)
    heading = follows_words(first)
    counted_from = "procedure" if first.procedure_id else "decision"
    return Course(
        heading=heading[0].upper() + heading[1:],
        counted_from=f"{counted_from.capitalize()} on {day_words(first.anchor_on)}",
        timeline=Timeline(
            title=f"Course after {heading}, {day_words(first.anchor_on)}",
            panels=tuple(panels),
            bands=tuple(
                Band(_day(one.opens_on, first), _day(one.closes_on, first)) for one in reviews
            ),
            anchor_name=counted_from,
            today=_day(on, first),
        ),
        contacts=_contacts_table(reviews, protocol, on),
        heights=_heights_table(heights, first, protocol) if heights else None,
        height_note=_height_note(protocol),
    )


def _fractures(review: Review) -> set[int | None]:
    if review.procedure is None:
        return {review.fracture_id}
    return {level.fracture_id for level in review.procedure.levels.all()}


def _day(on: date, review: Review) -> int:
    return (on - review.anchor_on).days


def _score_panel(code: str, reviews: Sequence[Review], protocol: ProtocolValues, on: date) -> Panel:
    asked = INSTRUMENTS[code]
    dots = []
    for review in reviews:
        score = _scores(review).get(code)
        value = int(score.value) if score and score.value is not None else None
        if review.held_on is None and review.closes_on >= on:
            continue  # still to come: neither a value nor a gap
        day = _day(review.held_on or review.target_on, review)
        dots.append(Dot(day, value, f"({title_of(review, protocol)})"))
    return Panel(asked.question, asked.unit, asked.low, asked.high, tuple(dots))


def _scores(review: Review) -> dict[str, Score]:
    return {score.instrument: score for score in review.scores.all()}


def _height_panels(heights: Sequence[Measurement], anchor_on: date) -> list[Panel]:
    by_level = groupby(
        sorted(heights, key=lambda one: one.reading.level), key=lambda one: one.reading.level
    )
    return [
        Panel(
            f"Anterior height of {level}",
            "mm",
            *HEIGHT_ENDS,
            tuple(_height_dot(one, anchor_on) for one in measured),
            has_figures=True,
        )
        for level, measured in by_level
    ]


def _height_dot(measured: Measurement, anchor_on: date) -> Dot:
    """Return a height; only those that may be subtracted are joined."""
    taken_on = measured.reading.study.performed_on
    how = circumstances_of(measured)
    posture = words_for(POSTURE, how.posture) if how.posture else "posture not recorded"
    alone = why_not_comparable(how, how)  # not recorded: not even like another of its kind
    return Dot(
        day=(taken_on - anchor_on).days,
        value=measured.anterior_height_mm,
        name=f"({day_words(taken_on)}, {posture})",
        mark=_MARKS.get(how.posture, "open"),
        line=f"{measured.pk}" if alone else f"{how.posture}, {how.calibration}",
    )


def _height_note(protocol: ProtocolValues) -> str:
    error = protocol.entry("measures.height_error_mm")
    return (
        f"A change of a height below {error.words} is within measurement error. "
        f"Source: {error.source.words}. Lying down lifts a body: a height is compared with one "
        "before in the same posture and with the same calibration, or not at all."
    )


def _contacts_table(reviews: Sequence[Review], protocol: ProtocolValues, on: date) -> Table:
    """Return the contacts as columns and everything told at them as rows."""
    columns = [Column("At the contact"), *(Column(title_of(one, protocol)) for one in reviews)]
    rows = [
        ["Window", *(f"{day_words(r.opens_on)} to {day_words(r.closes_on)}" for r in reviews)],
        ["Held on", *(_held_words(review, on) for review in reviews)],
        ["How, and who answered", *(_who_words(review) for review in reviews)],
    ]
    told = {code for review in reviews for code in _scores(review)}
    points = {point.code: point.instruments for point in protocol.timepoints}
    for code in [code for code in INSTRUMENTS if code in told or code in DRAWN]:
        asked = INSTRUMENTS[code]
        unit = "" if asked.answers or asked.unit == "falls" else f", {asked.unit}"
        rows.append([f"{asked.question}{unit}", *(_score_words(code, r, points) for r in reviews)])
    rows.append(["Warning signs", *(_signs_words(review) for review in reviews)])
    return Table.of("Contacts", columns, rows)


def _held_words(review: Review, on: date) -> str:
    if review.held_on is None:
        return _state(review, on)
    how = held_words(review)
    return day_words(review.held_on) + ("" if how == "held in the window" else f", {how}")


def _state(review: Review, on: date) -> str:
    """Return where a contact that was not held stands, in the words of ContactState."""
    if on < review.opens_on:
        return ContactState.UPCOMING.words
    if on <= review.target_on:
        return ContactState.DUE.words
    if on <= review.closes_on:
        return ContactState.OVERDUE.words
    if review.closed_before_entry:
        return "not recorded, window closed before the list was entered"
    return "not held, window closed"


def _why_nothing(review: Review) -> str:
    """Return what stands in the place of each answer of a contact that was not held."""
    return NOT_RECORDED if review.closed_before_entry else "not held"


def _who_words(review: Review) -> str:
    if review.held_on is None:
        return _why_nothing(review)
    told = [
        review.get_mode_display() or "how: not recorded",
        words_for(INFORMANT, review.informant),
    ]
    proxy = review.informant not in ("", "patient")
    return ", ".join([*told, review.informant_name or "name not recorded"] if proxy else told)


def _score_words(code: str, review: Review, points: Mapping[str, Collection[str]]) -> str:
    score = _scores(review).get(code)
    if score is None:
        if code not in points.get(review.timepoint, INSTRUMENTS):
            return "not asked here"
        return _why_nothing(review) if review.held_on is None else NOT_RECORDED
    if score.value is None:
        return words_for(ABSENT, score.absent.get("value", ""))
    return INSTRUMENTS[code].words(score.value)


def _signs_words(review: Review) -> str:
    if review.held_on is None:
        return _why_nothing(review)
    if not review.red_flags:
        return "not asked"
    signs = ", ".join(
        words_for(RED_FLAG, code) for code in codes(RED_FLAG) if code in review.red_flags
    )
    if not review.red_flags_told:
        return signs
    told_on = day_words(review.red_flags_told_at and localtime(review.red_flags_told_at).date())
    return f"{signs}; told {review.red_flags_told}, {told_on}"


def _heights_table(
    heights: Sequence[Measurement], review: Review, protocol: ProtocolValues
) -> Table:
    return Table.of(
        "Heights of the treated levels",
        [
            Column("Level"),
            Column("Taken on"),
            Column("Posture"),
            Column("Anterior", "mm", figures=True),
            Column("Middle", "mm", figures=True),
            Column("Posterior", "mm", figures=True),
            Column("Anterior, change from before"),
            Column("Method"),
            Column("Calibration"),
        ],
        [
            [
                one.reading.level,
                day_words(one.reading.study.performed_on),
                words_for(POSTURE, posture_of(one)) if posture_of(one) else NOT_RECORDED,
                one.anterior_height_mm,
                _mm(one.middle_height_mm),
                _mm(one.posterior_height_mm),
                _change_words(one, heights, review, protocol),
                one.get_method_display() or NOT_RECORDED,
                one.get_calibration_display() or NOT_RECORDED,
            ]
            for one in heights
        ],
    )


def _change_words(
    after: Measurement, heights: Sequence[Measurement], review: Review, protocol: ProtocolValues
) -> str:
    """Return the change from the newest comparable height before, or why there is none.

    An image of the day of a procedure may be from before or after it.
    """
    day = _taken(after, review)
    if day == 0 and review.procedure_id:
        return "not compared: taken on the day of the procedure"
    if day <= 0:
        return "before"
    last = -1 if review.procedure_id else 0
    before = [
        (one, circumstances_of(one))
        for one in reversed(heights)
        if one.reading.level == after.reading.level and _taken(one, review) <= last
    ]
    found, why = nearest_comparable(circumstances_of(after), before)
    if found is None:
        return "not compared: no height before"
    if why:
        return f"not comparable: {words_for(WHY_NOT, why)}"
    assert after.anterior_height_mm is not None
    assert found.anterior_height_mm is not None
    return change_words(after.anterior_height_mm - found.anterior_height_mm, "mm", protocol)


def _taken(one: Measurement, review: Review) -> int:
    return _day(one.reading.study.performed_on, review)


def _mm(value: object) -> object:
    return NOT_RECORDED if value is None else value
