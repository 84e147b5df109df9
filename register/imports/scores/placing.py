"""Which contact a row means: by the treatment, the time point and the day, or for a person.

A contact that the protocol asks for stands in the register from the treatment on, so that
it counts among those due whether or not it takes place. A file fills it. It makes a contact
only at a time point that the protocol knows and does not ask for.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from register.domain.days import day_words
from register.imports.cells import plain
from register.imports.scores.known import KnownFollowed, KnownTreatment, Slot
from register.imports.scores.rows import ScoreRow


@dataclass(frozen=True, slots=True)
class Place:
    """A contact, and the treatment that it follows."""

    treatment: KnownTreatment
    slot: Slot

    @property
    def key(self) -> tuple[int | None, int | None, str]:
        """What stands for the contact within one file."""
        return self.treatment.procedure_id, self.treatment.fracture_id, self.slot.timepoint

    @property
    def words(self) -> str:
        """The contact in words: "“3 months” after balloon tamping, L1, of 05 Mar 2027"."""
        is_before = self.slot.target_on <= self.treatment.anchor_on
        where = "" if is_before else "after "
        return f"“{self.slot.title}” {where}{self.treatment.words}"


def place_of(row: ScoreRow, patient: KnownFollowed) -> tuple[Place | None, list[str]]:
    """Return the contact that a row means, or what to do where nobody can tell."""
    if not patient.treatments:
        return None, [
            "No contact is scheduled for this patient. Sign the procedure, or record the decision "
            "for conservative care, and send the row again."
        ]
    meant = [one for one in patient.treatments if _may_be_meant(row, one)]
    if not meant:
        return None, [_no_such_treatment(row, patient.treatments)]
    places, why = _by_name(row, meant) if row.timepoint else _by_window(row, meant)
    if len(places) > 1:
        there = [place for place in places if place.slot.was_held(row.held_on)]
        places = there if len(there) == 1 else places
    if len(places) > 1:
        return None, [_ambiguous(row, places)]
    if not places:
        return None, [why]
    wrong = _out_of_order(row, places[0])
    return (None, [wrong]) if wrong else (places[0], [])


def _may_be_meant(row: ScoreRow, treatment: KnownTreatment) -> bool:
    return row.anchor_on in (None, treatment.anchor_on) and treatment.levels >= set(row.levels)


def _by_name(row: ScoreRow, meant: Sequence[KnownTreatment]) -> tuple[list[Place], str]:
    """Return the contacts of the named time point; of several, those whose window fits."""
    places = [Place(t, slot) for t in meant for slot in t.slots if _is_named(row, slot)]
    if not places:
        titles = "; ".join(dict.fromkeys(slot.title for t in meant for slot in t.slots))
        return [], (
            f"Time point: no contact “{row.timepoint}” is scheduled after "
            f"{_all_words(meant)}. Write one of these: {titles}."
        )
    if len(places) > 1:
        places = [place for place in places if place.slot.holds(row.held_on)] or places
    for place in places:
        other = nearest(place.treatment.slots, row)
        if not place.slot.holds(row.held_on) and other and not place.slot.was_held(row.held_on):
            return [], (
                f"Time point: the row says “{place.slot.title}”, its date, "
                f"{day_words(row.held_on)}, lies in the window of “{other.title}” after "
                f"{place.treatment.words}. Correct the time point or the date."
            )
    return places, ""


def _by_window(row: ScoreRow, meant: Sequence[KnownTreatment]) -> tuple[list[Place], str]:
    """Return for each treatment the contact in whose window the day lies."""
    found = [(t, nearest(t.slots, row)) for t in meant]
    places = [Place(treatment, slot) for treatment, slot in found if slot is not None]
    if not places:
        places = [Place(t, s) for t in meant for s in t.slots if s.was_held(row.held_on)]
    return places, (
        f"Contact date: {day_words(row.held_on)} lies in no window of a contact after "
        f"{_all_words(meant)}. Write under “Time point” which contact it was."
    )


def nearest(slots: Iterable[Slot], row: ScoreRow) -> Slot | None:
    """Return the contact in whose window a row's day lies, that of the nearest target."""
    holding = [slot for slot in slots if slot.holds(row.held_on)]
    return min(
        holding,
        key=lambda slot: (abs((row.held_on - slot.target_on).days), slot.target_on),
        default=None,
    )


def _is_named(row: ScoreRow, slot: Slot) -> bool:
    return plain(row.timepoint) in (plain(slot.timepoint), plain(slot.title))


def _out_of_order(row: ScoreRow, place: Place) -> str:
    """Return what a day before or after the treatment has against it, as on the page."""
    anchor, held = place.treatment.anchor_on, row.held_on
    is_before = place.slot.target_on <= anchor
    if is_before and held > anchor:
        wrong = "after"
    elif not is_before and held < anchor:
        wrong = "before"
    else:
        return ""
    return (
        f"Contact date: {day_words(held)} is {wrong} {place.treatment.anchor_words} of "
        f"{day_words(anchor)}, and the contact is “{place.slot.title}”. Correct one of them."
    )


def _ambiguous(row: ScoreRow, places: Sequence[Place]) -> str:
    told = "; or ".join(place.words for place in places)
    return (
        f"Contact date: on {day_words(row.held_on)} it may be {told}. Write the treatment date "
        "and the levels, or the time point."
    )


def _no_such_treatment(row: ScoreRow, there: Sequence[KnownTreatment]) -> str:
    said = [day_words(row.anchor_on)] if row.anchor_on else []
    said += [" ".join(row.levels)] if row.levels else []
    return (
        f"No treatment of this patient with contacts fits {', '.join(said)}. There is "
        f"{_all_words(there)}. Correct the treatment date or the levels."
    )


def _all_words(treatments: Sequence[KnownTreatment]) -> str:
    return " and ".join(one.words for one in treatments)
