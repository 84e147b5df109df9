"""Bodies, pictures and films to draw from."""

from hypothesis import settings
from hypothesis import strategies as st

from register.domain.measuring.calibration import Spacing
from register.domain.measuring.points import marks_of
from tests.phantoms import LateralBody, lateral

# A whole film is worked out for each example.
few = settings(max_examples=40)
mm = st.floats(12, 40)
turns = st.floats(-180, 180)
shifts = st.tuples(st.floats(-200, 500), st.floats(-200, 500))
pixel = st.floats(0.1, 1.2)
spacings = st.builds(lambda row, column: Spacing(row, column, "calibrated"), pixel, pixel)


def bodies(level):
    """A body of any usual shape; deeper than it is wedged."""
    return st.builds(
        LateralBody, st.just(level), mm, mm, mm, st.floats(25, 45), st.floats(-40, 40),
        st.floats(0, 1),
    )  # fmt: skip


columns = st.tuples(bodies("T12"), bodies("L1"), bodies("L2"))


def marked(phantom, spacing=None, view="lateral"):
    """The marks of a phantom, through the JSON in which they are stored."""
    pair = (spacing.row_mm, spacing.column_mm) if spacing else (1.0, 1.0)
    return marks_of(phantom.marks(pair), view)


def film_of(bodies, *, turn=0.0, shift=(0.0, 0.0), mirror=False):
    """A lateral film of bodies, turned, shifted and reversed."""
    film = lateral(*bodies).turned(turn).shifted(*shift)
    return film.mirrored() if mirror else film
