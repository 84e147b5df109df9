"""Taking images in: kept as they came, put into series, their person confirmed by a person."""

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import IO, Any, Final

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils import timezone

from register.domain.measuring.calibration import ImageTells, spacing_of
from register.history import acting
from register.images import child, inbox
from register.images.answers import FrameFacts, Indexed
from register.images.refusals import Refused
from register.images.series import Slice, order_of, plane_of
from register.images.store import Store
from register.models import ImageFile, ImageFrame, ImageSeries, Study, User
from register.services.records import record_change

_LONGEST: Final = {"uid": 64, "description": 100, "made_with": 16, "frame_of_reference": 64}


@dataclass(slots=True)
class Taken:
    """What came of the files that were sent."""

    files: int = 0
    pictures: int = 0
    there_already: int = 0
    refused: list[Refused] = field(default_factory=list)

    @property
    def words(self) -> str:
        """The outcome in one sentence."""
        files, pictures = _many(self.files, "file"), _many(self.pictures, "picture")
        parts = [f"{files} taken, {pictures}"]
        if self.there_already:
            parts.append(f"{_many(self.there_already, 'file')} here already")
        if self.refused:
            parts.append(f"{_many(len(self.refused), 'file')} left out")
        return f"{'; '.join(parts)}."


def _many(count: int, word: str) -> str:
    return f"{count:,} {word}{'' if count == 1 else 's'}"


@cache
def image_store() -> Store:
    """The store of this installation, outside of what the web server hands out."""
    return Store(Path(settings.IMAGE_ROOT))


def images_take(*, study: Study, user: User, sent: Iterable[tuple[str, IO[bytes]]]) -> Taken:
    """Keep what can be read of the files that were sent, and say of the rest why not.

    A file that the study has already is not taken twice. Files whose words about their
    person differ stand in series of their own, so that none hides among the others.
    """
    taken = Taken()
    found: dict[str, tuple[int, Indexed]] = {}
    with image_store().several() as keep:
        for answer, content in _read(sent, taken):
            digest = keep(content)
            if digest in found:
                taken.there_already += 1
            found.setdefault(digest, (len(content), answer))
    with acting(user, "Images taken in"):
        # Two who send the same at once come after each other, and the second takes nothing.
        Study.objects.select_for_update().get(pk=study.pk)
        shown = ImageFrame.objects.live().filter(file__study=study, series__voided_at=None)
        known = set(shown.values_list("file__sha256", flat=True))
        new = [(digest, *one) for digest, one in found.items() if digest not in known]
        taken.there_already += len(found) - len(new)
        if new:
            _write(study, new, taken)
    return taken


def _read(sent: Iterable[tuple[str, IO[bytes]]], taken: Taken) -> Iterator[tuple[Indexed, bytes]]:
    """Yield what the reading process says of each readable file, with its bytes."""
    last: list[bytes] = [b""]

    def files() -> Iterator[tuple[str, bytes]]:
        for one in inbox.files_in(sent):
            if isinstance(one, Refused):
                taken.refused.append(one)
            else:
                last[0] = one.content
                yield one.name, one.content

    for answer in child.index(files()):
        if isinstance(answer, Refused):
            taken.refused.append(answer)
        else:
            yield answer, last[0]


def _write(study: Study, found: list[tuple[str, int, Indexed]], taken: Taken) -> None:
    """Write files, series and frames, and put each series that grew into its order."""
    # A file whose series was set aside is still here: its pictures come anew.
    there = {file.sha256: file for file in ImageFile.objects.live().filter(study=study)}
    files = [
        there.get(digest)
        or ImageFile(
            study=study, sha256=digest, size_bytes=size, kind=one.kind, file_name=one.name[:300]
        )
        for digest, size, one in found
    ]
    new = [file for file in files if file.pk is None]
    _check(new)
    ImageFile.objects.bulk_create(new)
    grown: dict[int, ImageSeries] = {}
    frames = []
    for file, (_, _, one) in zip(files, found, strict=True):
        series = _series_for(study, one, grown)
        frames += [_frame(series, file, one, facts) for facts in one.frames]
    _check(frames)
    ImageFrame.objects.bulk_create(frames)
    taken.files, taken.pictures = len(files), len(frames)
    numbers = {
        (frame.file_id, frame.number): one.instance_number
        for frame, one in _with_answers(frames, files, found)
    }
    for series in grown.values():
        _arrange(series, numbers)


def _with_answers(
    frames: list[ImageFrame], files: list[ImageFile], found: list[tuple[str, int, Indexed]]
) -> Iterator[tuple[ImageFrame, Indexed]]:
    of_file = {file.pk: one for file, (_, _, one) in zip(files, found, strict=True)}
    for frame in frames:
        yield frame, of_file[frame.file_id]


def _check(rows: Iterable[ImageFile | ImageFrame]) -> None:
    """Check each field; what needs several fields is held by the constraints of the table."""
    for row in rows:
        row.clean_fields(exclude=["file", "series", "study"])


def _series_for(study: Study, one: Indexed, grown: dict[int, ImageSeries]) -> ImageSeries:
    """Return the series of a file: one there already with the same words, else a new one."""
    told = _told(one)
    fields = {
        "uid": one.series_uid,
        "description": one.series_description,
        "made_with": one.modality,
        "frame_of_reference": one.frame_of_reference,
    }
    fields = {name: text[: _LONGEST[name]] for name, text in fields.items()}
    plane = plane_of(
        one.frames[0].orientation, view=one.view_position, patient=one.patient_orientation
    )
    there = (
        next(
            (s for s in grown.values() if (s.uid, s.told, s.plane) == (fields["uid"], told, plane)),
            None,
        )
        or ImageSeries.objects.live()
        .filter(study=study, uid=fields["uid"], told=told, plane=plane)
        .first()
    )
    if there is None:
        there = ImageSeries(study=study, number=one.series_number, plane=plane, told=told, **fields)
        there.full_clean()
        there.save()
    grown[there.pk] = there
    return there


def _told(one: Indexed) -> dict[str, str]:
    """Return what a file says of its person; what it does not say is left out."""
    said = one.identity
    told = {
        "name": said.name, "number": said.number, "birth": said.birth_date, "sex": said.sex,
        "accession": said.accession,
    }  # fmt: skip
    if one.burned_in:
        told["written"] = "yes"
    return {what: text[:200] for what, text in told.items() if text}


def _frame(series: ImageSeries, file: ImageFile, one: Indexed, facts: FrameFacts) -> ImageFrame:
    spacing = spacing_of(
        ImageTells(
            modality=one.modality,
            pixel_spacing=facts.pixel_spacing,
            calibration_type=facts.calibration_type,
            imager_spacing=facts.imager_spacing,
            magnification=facts.magnification,
            aspect=facts.aspect,
            projection=one.projection,
        )
    )
    return ImageFrame(
        series=series,
        file=file,
        number=facts.number,
        rows=one.rows,
        columns=one.columns,
        row_mm=spacing.row_mm if spacing.has_mm else None,
        column_mm=spacing.column_mm if spacing.has_mm else None,
        basis=spacing.basis,
        aspect=spacing.aspect,
        position=list(facts.position),
        orientation=list(facts.orientation),
        slope=facts.slope,
        intercept=facts.intercept,
        centre=facts.centre,
        width=facts.width,
        inverted=one.inverted,
        layout=one.layout,
    )


def _arrange(series: ImageSeries, numbers: dict[tuple[int, int], int | None]) -> None:
    """Put the frames of a series into the order in which they lie in the patient."""
    frames = list(ImageFrame.objects.live().filter(series=series).order_by("place", "pk"))
    slices = [
        Slice(
            tuple(frame.position),
            tuple(frame.orientation),
            numbers.get((frame.file_id, frame.number)),
        )
        for frame in frames
    ]
    moved = []
    for place, at in enumerate(order_of(slices).order):
        if frames[at].place != place:
            frames[at].place = place
            moved.append(frames[at])
    ImageFrame.objects.bulk_update(moved, ["place"], batch_size=500)


def series_confirm(
    *, series: ImageSeries, expected_version: int, note: str, user: User
) -> ImageSeries:
    """Record that a person knows these to be the patient's images. Raises EditConflict."""
    if not note.strip():
        raise ValidationError({"identity_note": "Say how you know."})
    return record_change(
        record=series,
        expected_version=expected_version,
        user=user,
        reason="Confirmed as this patient's images",
        fields={
            "identity_confirmed_by": user,
            "identity_confirmed_at": timezone.now(),
            "identity_note": note.strip(),
            "confirmed_for": series.study.patient_id,
        },
    )


def expect_pictures() -> None:
    """Have the reading process started while a page is on its way that will ask for pictures."""
    child.warm_up()


def picture_of(frame: ImageFrame) -> tuple[dict[str, Any], bytes]:
    """Return what is to be known for showing a frame, and its stored values.

    Raises ImageRefused with words when it cannot be read.
    """
    found = image_store().pixels(frame.file.sha256, frame.number)
    head = {
        "rows": found.rows, "columns": found.columns, "layout": found.layout,
        "slope": found.slope, "intercept": found.intercept, "centre": found.centre,
        "width": found.width, "inverted": found.inverted, "padding": found.padding,
        "function": found.function,
    }  # fmt: skip
    return json.loads(json.dumps(head)), found.values
