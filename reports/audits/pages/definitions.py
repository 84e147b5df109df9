"""Chapter: what each word and method means, where it comes from, and how far that was read."""

from reports.audits.document import Column, Line, Section, Table
from reports.audits.spec import BEFORE, Spec
from reports.audits.values import FEWEST_FOR_MEAN
from reports.wording import INTERVAL

OWN = ("this register", "own definition")
SECOND_HAND = "published, seen second-hand"
MEMORY = "published, from memory"
COMMON = "common practice, no source"

_METHODS = (
    (
        f"{INTERVAL} of a share",
        "Wilson score interval without continuity correction.",
        "Newcombe, Stat Med 1998;17:857",
        SECOND_HAND,
    ),
    (
        f"{INTERVAL} of a share of levels",
        "Design effect from the ratio estimator between procedures, then Wilson on the effective "
        "number of levels.",
        "Rao and Scott, Biometrics 1992;48:577",
        SECOND_HAND,
    ),
    (
        "Difference of two shares",
        "Square-and-add interval of two independent shares (method 10).",
        "Newcombe, Stat Med 1998;17:873",
        SECOND_HAND,
    ),
    (
        f"{INTERVAL} of a mean change",
        "Student t interval of the changes within patients. No change is tested.",
        "Student, Biometrika 1908;6:1",
        MEMORY,
    ),
    (
        f"{INTERVAL} of a median",
        "From order statistics; none below six values.",
        "Snedecor and Cochran, Statistical Methods",
        SECOND_HAND,
    ),
    (
        "Limit when nothing happened",
        "1 − 0.05^(1/n), one-sided: the highest true rate that still gives no event in n in one "
        "of twenty audits.",
        "Hanley and Lippman-Hand, JAMA 1983;249:1743",
        MEMORY,
    ),
    (
        "Worst case, best case, band",
        "All missing failed; all missing succeeded; from the lower 95 % limit of the worst to the "
        "upper of the best.",
        "after Sackett and after Manski",
        MEMORY,
    ),
    (
        "Observed share of follow-up time",
        "Observed over owed person-time; owed runs to the last contact whose window has closed, or "
        "to death.",
        "after Clark, Altman, De Stavola, Lancet 2002;359:1309",
        SECOND_HAND,
    ),
    (
        "Leak routes",
        "Basivertebral vein, segmental vein, cortical defect; disc added later.",
        "Yeom et al., J Bone Joint Surg Br 2003;85:83",
        SECOND_HAND,
    ),
    (
        "Grade of a complication",
        "I to V by what it took to treat it (Clavien and Dindo).",
        "as printed in PMC10958949, Table 3",
        "published and read",
    ),
)


def section(spec: Spec) -> Section:
    """Print definitions, methods and sources."""
    return Section(
        id="definitions",
        title="Definitions, methods and sources",
        sentences=(
            "Nothing that is missing was read as “no” or as nought: it is counted and printed on "
            "its own. Percentages carry one decimal from a denominator of 100.",
        ),
        tables=(_table(spec),),
    )


def _table(spec: Spec) -> Table:
    entries = [*_own(spec), *_bounds(spec), *_METHODS]
    return Table(
        id="definitions",
        title="What the words mean",
        about="Status: how far the source of the definition or the number was read.",
        columns=(
            Column("Word", figure=False),
            Column("Meaning", figure=False),
            Column("Source", figure=False),
            Column("Status", figure=False),
        ),
        lines=tuple(Line(entry) for entry in entries),
    )


def _own(spec: Spec) -> list[tuple[str, str, str, str]]:
    return [
        ("Done", "Belongs to a period by the day of the procedure.", *OWN),
        (
            "Due",
            "Belongs to a period by the day on which the window of the contact closed, whatever "
            "became of it.",
            *OWN,
        ),
        (
            "Twelve months",
            "The year that ends with the quarter; the quarter is inside it. Since start: all "
            "procedures up to the last day of the quarter.",
            *OWN,
        ),
        (
            "Too few to tell",
            f"Fewer than {FEWEST_FOR_MEAN} in the denominator: counts are printed, no interval.",
            "chosen by this register",
            COMMON,
        ),
        _windows(spec),
    ]


def _windows(spec: Spec) -> tuple[str, str, str, str]:
    points = [point for point in spec.protocol.timepoints if point.asked]
    text = "; ".join(
        f"{'before the procedure' if p.code == BEFORE else p.title}, "
        f"day {_day(p.opens_days)} to {_day(p.closes_days)}"
        for p in points
    )
    return (
        "Window of a contact",
        f"Days from the procedure, both ends included: {text}.",
        "protocol of the department",
        COMMON,
    )


def _day(day: int) -> str:
    return str(day).replace("-", "−")


def _bounds(spec: Spec) -> list[tuple[str, str, str, str]]:
    entries = (
        (
            "clock.window_days",
            "Treated in time",
            "By day {} after the onset. The end of the window prompts a decision, never an "
            "operation.",
        ),
        (
            "change.nrs_points",
            "Important fall of pain, points",
            "The score at the contact is lower than before by {} or more.",
        ),
        (
            "change.percent_of_baseline",
            "Important fall of pain, share",
            "The score at the contact is lower by {} of the score before, or more.",
        ),
        (
            "measures.height_error_mm",
            "Measurement error of a height",
            "In one level, a change of less than {} is within it.",
        ),
    )
    rows = []
    for id, name, meaning in entries:
        value = spec.values.entry(id)
        amount = value.words.removesuffix(" days")
        place = f"{value.source.citation}. {value.source.place}".rstrip(". ")
        rows.append((name, meaning.format(amount), place, value.source.kind.words))
    return rows
