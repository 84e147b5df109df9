"""The quarterly audit: from a spec and its frozen rows to everything that is printed. Pure."""

from dataclasses import dataclass

from register.domain.days import day_words
from reports.audits.document import Document
from reports.audits.pages import activity, contacts, definitions, harm, heights, leaks, pain
from reports.audits.pages.headline import headline, key_table
from reports.audits.results import Results, results
from reports.audits.rows import Rows, digest
from reports.audits.spec import Spec


@dataclass(frozen=True, slots=True)
class Report:
    """One audit: what was asked, the digest of the rows, the numbers, and their words."""

    spec: Spec
    rows_sha256: str
    results: Results
    document: Document


def build(spec: Spec, rows: Rows) -> Report:
    """Turn rows into the numbers and words that are printed: no query, no clock, no chance."""
    found = results(spec, rows)
    return Report(
        spec=spec, rows_sha256=digest(rows), results=found, document=_document(spec, rows, found)
    )


def _document(spec: Spec, rows: Rows, found: Results) -> Document:
    return Document(
        title=f"Vertebral fracture audit, {spec.title}",
        subtitle=spec.site,
        facts=_facts(spec, rows),
        headline=headline(spec, found),
        key=key_table(spec, found),
        sections=(
            activity.section(spec, found),
            contacts.section(spec, found),
            pain.section(spec, found),
            leaks.section(spec, found),
            harm.section(spec, found),
            heights.section(spec, found),
            definitions.section(spec),
        ),
    )


def _facts(spec: Spec, rows: Rows) -> tuple[tuple[str, str], ...]:
    done = [row.performed_on for row in rows.procedures]
    return (
        ("Quarter", f"{day_words(spec.first_day)} to {day_words(spec.last_day)}"),
        ("Twelve months from", day_words(spec.twelve_months.first)),
        ("Since start", day_words(min(done)) if done else "no procedure yet"),
        ("Records read up to", day_words(spec.cut_off)),
        ("Protocol", f"of {day_words(spec.protocol.day)}, {spec.protocol.digest()[:12]}"),
    )
