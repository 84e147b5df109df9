"""The page computes what the server computes: numbers, greys, lines of crossing slices."""

import random

import pytest

from register.domain.measuring.calibration import Spacing
from register.domain.measuring.measure import measure
from register.domain.measuring.points import VIEWS, marks_of
from register.images import shades
from tests.browser.viewer import pictures

COMPUTE = """async (cases) => {
  const { measured } = await import("/static/register/js/measure/values.js");
  const { spacingOf } = await import("/static/register/js/measure/spacing.js");
  return cases.map(({ view, marks, frame, sd }) => {
    const levels = Object.keys(marks).filter((one) => one !== "known");
    const spacing = spacingOf(frame, marks);
    return Object.fromEntries(levels.map((level) => {
      const found = measured({ view, levels, level, errorMm: sd }, marks, spacing);
      const own = found.rows.map((row) => [row.key, row.at[level]]);
      const spans = found.spans.map((one) => [one.key, one.value]);
      return [level, Object.fromEntries([...own, ...spans])];
    }));
  });
}"""


def made_up_case(dice: random.Random) -> dict:
    """Marks anywhere, some missing; any scale and basis."""
    view = dice.choice(list(VIEWS))
    levels = ["L1"] if view == "axial" else ["T11", "T12", "L1", "L2", "L3"]
    where = lambda: [dice.uniform(0, 1999), dice.uniform(0, 2499)]  # noqa: E731
    marks: dict = {
        level: {name: where() for name in VIEWS[view] if dice.random() < 0.93} for level in levels
    }
    if dice.random() < 0.4:
        marks["known"] = {"start": where(), "end": where(), "mm": f"{dice.uniform(5, 90):.1f}"}
    basis = dice.choice(["calibrated", "magnification", "none"])
    row_mm, column_mm = dice.uniform(0.05, 1.2), dice.uniform(0.05, 1.2)
    scale = {"row_mm": row_mm, "column_mm": column_mm, "aspect": row_mm / column_mm}
    if basis == "none":
        scale |= {"row_mm": None, "column_mm": None}
    return {"view": view, "marks": marks, "sd": 1.2, "frame": scale | {"basis": basis}}


def test_the_page_computes_what_the_server_computes(opened):
    dice = random.Random(20261125)
    cases = [made_up_case(dice) for _ in range(60)]
    answers = opened("empty").evaluate(COMPUTE, cases)
    compared = 0
    for case, answer in zip(cases, answers, strict=True):
        frame = case["frame"]
        spacing = Spacing(
            frame["row_mm"] or frame["aspect"], frame["column_mm"] or 1.0, frame["basis"]
        )
        server = measure(marks_of(case["marks"], case["view"]), spacing, case["sd"])
        for level, found in server.items():
            for key, seen in answer[level].items():
                there = found.values.get(key)
                expected = {"value": there and there.value, "error": there and there.error}
                got = seen or {"value": None, "error": None}
                for part, number in expected.items():
                    close = pytest.approx(number, rel=1e-6, abs=1e-6) if number else number
                    assert got[part] == close, (level, key, part, case)
                compared += seen is not None
    print(f"{compared} values and their errors compared")
    assert compared > 800


def test_greys_and_crossing_lines(opened):
    page = opened("empty")
    windows = [
        {"centre": 90.5, "width": 511, "function": "LINEAR"},
        {"centre": 90.5, "width": 1, "function": "LINEAR"},
        {"centre": 400, "width": 700, "function": "LINEAR_EXACT"},
        {"centre": 400, "width": 700, "function": "SIGMOID"},
    ]
    kinds = [("uint8", 1, True), ("uint16", 0.37, True), ("int16", 1, False), ("int16", 0.37, True)]
    frames = [
        {"layout": layout, "slope": slope, "intercept": -24, "inverted": inverted}
        for layout, slope, inverted in kinds
    ]
    made = page.evaluate(
        """async ([frames, windows]) => {
          const { table } = await import("/static/register/js/measure/shades.js");
          const some = (shades) => [...shades].filter((_, at) => at % 97 === 0);
          return frames.map((frame) => windows.map((window) =>
            some(table(frame, window)).map((shade) => shade & 255)));
        }""",
        [frames, windows],
    )
    for frame, greys in zip(frames, made, strict=True):
        stored = range(0, 256 if frame["layout"] == "uint8" else 65536, 97)
        if frame["layout"] == "int16":
            stored = [n if n < 32768 else n - 65536 for n in stored]
        kept = {name: frame[name] for name in ("slope", "intercept", "inverted")}
        for window, shown in zip(windows, greys, strict=True):
            assert bytes(shown) == shades.table(stored, **kept, **window)
    lines = page.evaluate(
        """async ([sagittal, axial]) => {
          const { crossing, sides } = await import("/static/register/js/measure/planes.js");
          return [crossing(sagittal, axial), crossing(axial, sagittal), crossing(axial, axial),
                  sides(sagittal), sides({})];
        }""",
        [pictures.slices("sagittal")[10], pictures.slices("axial")[20]],
    )
    # The axial slice lies at z = 0, the sagittal one at x = -30 mm.
    assert lines[0] == [[-0.5, 64], [127.5, 64]]
    assert sorted(lines[1]) == [[34, -0.5], [34, 127.5]]
    assert lines[2:] == [
        None,
        {"left": "front", "right": "back", "top": "head", "bottom": "feet"},
        None,
    ]


def test_the_whole_range_leaves_out_what_lies_outside(opened):
    frame = {"layout": "int16", "slope": 2, "intercept": -10, "padding": [-2000, -1990]}
    found = opened("empty").evaluate(
        """async (frame) => {
          const { wholeRange } = await import("/static/register/js/measure/shades.js");
          const values = new Int16Array([-2000, -5, 7, 95, -1995]);
          return wholeRange(frame, new Uint16Array(values.buffer));
        }""",
        frame,
    )
    centre, width = shades.whole_range(-5 * 2 - 10, 95 * 2 - 10)
    assert found == {"centre": centre, "width": width}
