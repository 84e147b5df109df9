"""The form of one contact: keyboard first, a reason instead of a score always possible."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from django import forms
from django.forms import BoundField
from django.utils.datastructures import MultiValueDict
from django.utils.timezone import get_current_timezone, localdate, localtime

from register.domain.days import day_words
from register.domain.scores import INSTRUMENTS, Instrument, unlikely, worst_below_now
from register.domain.vocabulary import ABSENT, CONTACT_MODE, INFORMANT, RED_FLAG, words_for
from register.forms.choices import SeveralField
from register.forms.clock import ClockField
from register.forms.conflicts import Compared, TakesRecorded, tell_conflict
from register.forms.dates import ThreeBoxDateField
from register.forms.editing import renew_version
from register.forms.outcomes import TokenForm, choose, numbered
from register.forms.scores import score_field
from register.history.past import row_as_of
from register.history.reading import changes_of_row
from register.models import Score
from register.selectors.review_pages import ReviewEntry
from register.services.editing import EditConflict
from register.services.outcomes import ScoreEntry


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """One line of the score table: the box, why it is empty, and the value before."""

    field: BoundField
    last: str


class ReviewForm(TakesRecorded, TokenForm):
    """One contact: when, how, who was spoken to, the scores, the warning signs.

    Each score is a number or a reason; a reason for the whole contact fills the
    boxes that are empty.
    """

    version = forms.IntegerField(widget=forms.HiddenInput)
    held_on = ThreeBoxDateField(label="Held on", latest=localdate, latest_words="today")
    mode = choose("How", numbered(CONTACT_MODE), next_box=True)
    informant = choose("Who answered", numbered(INFORMANT), next_box=True)
    informant_name = forms.CharField(
        label="Name of the relative or carer", max_length=120, required=False
    )
    all_absent = forms.ChoiceField(
        label="For every empty box above",
        choices=numbered(ABSENT, "leave as it is"),
        required=False,
        help_text="One reason for the whole contact, for example when all was declined.",
    )
    red_flag_check = choose(
        "New leg weakness, change of bladder or bowel, fever, sudden new pain",
        numbered(
            (
                ("none", "asked, none of these"),
                ("some", "yes, as ticked"),
                ("not_asked", "not asked"),
            ),
            first=0,
        ),
        next_box=True,
        needed="Warning signs: say whether you asked, and what was answered.",
    )
    red_flags = SeveralField(label="Which", vocabulary=RED_FLAG[:-1])
    red_flags_told = forms.CharField(label="Told whom", max_length=200, required=False)
    told_on = ThreeBoxDateField(
        label="Told on", required=False, latest=localdate, latest_words="today"
    )
    told_at = ClockField(label="Told at", required=False)
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea({"rows": 2}))
    why_changed = forms.CharField(
        label="Why it is changed",
        max_length=200,
        required=False,
        help_text="For example: the scale was read the wrong way round.",
    )

    field_order = (
        *("token", "version", "mode", "informant", "informant_name", "held_on"),
        *INSTRUMENTS,
        *("all_absent", "red_flag_check", "red_flags", "red_flags_told", "told_on", "told_at"),
        "note",
    )
    may_be_absent = tuple(INSTRUMENTS)
    # Any number may be questioned; whether it is depends on the value before.
    soft_limits = {  # noqa: RUF012 -- replaced, never changed
        one.code: (one.low, one.high) for one in INSTRUMENTS.values()
    }

    def __init__(self, *args: Any, entry: ReviewEntry, **options: Any) -> None:
        options["initial"] = _stored(entry) | (options.get("initial") or {})
        super().__init__(*args, **options)
        self.entry, self.instance = entry, entry.review
        self.recorded_version = entry.review.version
        if entry.review.held_on is None:
            del self.fields["why_changed"]
        for code in set(INSTRUMENTS) - set(entry.asked):
            for name in (code, f"{code}_absent", f"{code}_unlikely"):
                del self.fields[name]
        for code in entry.asked:
            why_none: Any = self.fields[f"{code}_absent"]
            why_none.choices = numbered(ABSENT, "–")
            self.fields[f"{code}_unlikely"].label = "Why it is right"
        held_on: Any = self.fields["held_on"]
        held_on.earliest, held_on.earliest_words = entry.earliest, entry.anchor_words
        held_on.latest, held_on.latest_words = entry.latest, entry.latest_words

    def boxes_of(self, name: str) -> list[str]:
        """Return the boxes of a column; warning signs and a moment have two."""
        return list(_BOXES.get(name) or super().boxes_of(name))

    @property
    def score_rows(self) -> Iterator[ScoreRow]:
        """The boxes in order, each with the value before in words."""
        for code in self.entry.asked:
            yield ScoreRow(self[code], self.entry.last_words(code))

    def restore(self, typed: Mapping[str, list[str]]) -> None:
        """Show what was typed and not saved, over the version on which it was typed."""
        if not typed:
            return
        data = MultiValueDict(typed)
        for name, field in self.fields.items():
            widget = field.widget
            if name != "token" and not widget.value_omitted_from_data(data, {}, name):
                self.initial[name] = widget.value_from_datadict(data, {}, name)

    def clean(self) -> dict[str, Any]:
        """Ask for what is missing: a score or a reason, and who was told of a warning sign."""
        cleaned = super().clean()
        absent, reason = cleaned["absent"], cleaned.get("all_absent", "")
        for code in self.entry.asked:
            if cleaned.get(code) is not None or absent.get(code) or code in self.errors:
                continue
            if reason:
                absent[code] = reason
            else:
                self.add_error(code, _missing_words(INSTRUMENTS[code]))
        self._check_warning_signs(cleaned)
        return cleaned

    def _check_warning_signs(self, cleaned: dict[str, Any]) -> None:
        check, signs = cleaned.get("red_flag_check", ""), cleaned.get("red_flags", [])
        if check == "some" and not signs:
            self.add_error("red_flags", "Which: tick the warning signs that there are.")
        if check != "some" and signs:
            self.add_error("red_flag_check", "Warning signs are ticked: choose “yes, as ticked”.")
        if not signs:
            return
        for name, words in _TOLD.items():
            if not cleaned.get(name) and name not in self.errors:
                self.add_error(name, words)
        held, told = cleaned.get("held_on"), cleaned.get("told_on")
        if held and told and told < held:
            words = f"must be on or after {day_words(held)} (the day of the contact)"
            self.add_error("told_on", f"Told on: {words}.")

    def _is_unusual(self, name: str, value: Any) -> bool:
        return bool(self._question(name, value))

    def _ask(self, name: str, value: Any) -> None:
        self.add_error(name, forms.ValidationError(self._question(name, value), code="unlikely"))

    def _question(self, name: str, value: Any) -> str:
        """Return what makes a value unlikely, as a question; "" when nothing does."""
        if value is None:
            return ""
        last = self.entry.previous.get(name)
        before, told_on = (last.value, last.told_on) if last else (None, "")
        asked = unlikely(name, value, before=before, told_on=told_on)
        if name == "pain_worst" and not asked:
            return worst_below_now(self.cleaned_data)
        return asked

    def review_fields(self) -> dict[str, Any]:
        """Return the columns of the contact as typed."""
        given = self.cleaned_data
        signs = given["red_flags"] or (["none"] if given["red_flag_check"] == "none" else [])
        by_proxy = given["informant"] != "patient"
        return {
            "held_on": given["held_on"],
            "mode": given["mode"],
            "informant": given["informant"],
            "informant_name": given["informant_name"] if by_proxy else "",
            "red_flags": signs,
            "red_flags_told": given["red_flags_told"] if given["red_flags"] else "",
            "red_flags_told_at": _moment(given) if given["red_flags"] else None,
            "note": given["note"],
        }

    def score_entries(self) -> dict[str, ScoreEntry]:
        """Return what was given for each instrument."""
        given = self.cleaned_data
        return {
            code: ScoreEntry(
                given[code], given["absent"].get(code, ""), given["unlikely"].get(code, "")
            )
            for code in self.entry.asked
        }

    def show_conflict(self, error: EditConflict, now: ReviewEntry) -> None:
        """Tell both values, keep what was typed, and let the next save decide knowingly.

        `now` is the contact as it stands after the other person's save.
        """
        self.add_error(None, str(error))
        scores = tuple(self._scores_compared(error, now))
        self.conflict = tell_conflict(self, error, words=_COLUMNS, more=scores)
        renew_version(self, error)

    def _scores_compared(self, error: EditConflict, now: ReviewEntry) -> Iterator[Compared]:
        for code, typed in self.score_entries().items():
            score = now.stored.get(code)
            read = _as_read(code, score, error)
            theirs = _told(code, score and score.value, score.absent if score else {})
            yours = _told(code, typed.value, {"value": typed.absent})
            if theirs not in (yours, read):
                question = INSTRUMENTS[code].question
                yield Compared(code, question, theirs, yours, is_untouched=read == yours)


ReviewForm.base_fields |= {one.code: score_field(one) for one in INSTRUMENTS.values()}
_TOLD = {
    "red_flags_told": "Told whom: name the person who was told of the warning sign.",
    "told_on": "Told on: enter the day.",
    "told_at": "Told at: enter the time, for example 14:05.",
}


_COLUMNS = {
    "held_on": "Held on",
    "mode": "How",
    "informant": "Who answered",
    "informant_name": "Name of the relative or carer",
    "red_flags": "Warning signs",
    "red_flags_told": "Told whom",
    "red_flags_told_at": "Told at",
    "note": "Note",
}


_BOXES = {
    "red_flags": ("red_flag_check", "red_flags"),
    "red_flags_told_at": ("told_on", "told_at"),
}


def _told(code: str, value: Any, absent: Mapping[str, str]) -> str:
    """Return a score in words, or why there is none."""
    if value is None:
        return words_for(ABSENT, absent.get("value", ""))
    return INSTRUMENTS[code].words(value)


def _as_read(code: str, score: Score | None, error: EditConflict) -> str:
    """Return a score in words as it stood when the page was opened."""
    if score is None or error.overtaken_at is None:
        return ""
    row = row_as_of(changes_of_row(score), error.overtaken_at)
    return _told(code, row["value"], row["absent"]) if row else _told(code, None, {})


def _missing_words(asked: Instrument) -> str:
    return (
        f"{asked.question}: enter a whole number from {asked.low} to {asked.high}, "
        "or choose why there is none."
    )


def _moment(given: Mapping[str, Any]) -> datetime:
    return datetime.combine(given["told_on"], given["told_at"], get_current_timezone())


def _stored(entry: ReviewEntry) -> dict[str, Any]:
    """Return what the boxes show at first: what is stored, or today's day."""
    review = entry.review
    shown: dict[str, Any] = {"version": review.version, "held_on": review.held_on or localdate()}
    for name in ("mode", "informant", "informant_name", "note", "red_flags_told"):
        shown[name] = getattr(review, name)
    shown["red_flags"] = [sign for sign in review.red_flags if sign != "none"]
    told = review.red_flags_told_at
    shown["told_on"], shown["told_at"] = _day_and_time(told) if told else (localdate(), None)
    if review.held_on:
        asked = "none" if review.red_flags else "not_asked"
        shown["red_flag_check"] = "some" if shown["red_flags"] else asked
    shown["absent"] = {
        code: score.absent["value"] for code, score in entry.stored.items() if score.absent
    }
    for code, score in entry.stored.items():
        shown[code] = None if score.value is None else int(score.value)
        shown[f"{code}_unlikely"] = score.unlikely_reason
    return shown


def _day_and_time(moment: datetime) -> tuple[date, time]:
    local = localtime(moment)
    return local.date(), local.time()
