/* Slices in the patient's space: where one slice crosses another, and which side of the
   picture is which side of the patient. Pure. A frame tells its `position` (mm, centre of the
   first pixel), `orientation` (direction of the rows, then of the columns) and its spacing. */

const dot3 = (one, other) => one[0] * other[0] + one[1] * other[1] + one[2] * other[2];
const minus3 = (one, other) => one.map((value, axis) => value - other[axis]);
const PARALLEL = 1e-6;

export function isPlaced(frame) {
  return frame?.position?.length === 3 && frame.orientation?.length === 6
    && frame.row_mm > 0 && frame.column_mm > 0;
}

function axes(frame) {
  const along = frame.orientation.slice(0, 3);
  const down = frame.orientation.slice(3);
  const normal = [
    along[1] * down[2] - along[2] * down[1],
    along[2] * down[0] - along[0] * down[2],
    along[0] * down[1] - along[1] * down[0],
  ];
  return { along, down, normal };
}

/* What is left of the stretch [from, to] of a line within low..high; null for nothing. */
function within(stretch, start, step, low, high) {
  if (Math.abs(step) < 1e-12) {
    return start >= low && start <= high ? stretch : null;
  }
  const ends = [(low - start) / step, (high - start) / step].sort((a, b) => a - b);
  const kept = [Math.max(stretch[0], ends[0]), Math.min(stretch[1], ends[1])];
  return kept[0] < kept[1] ? kept : null;
}

function withinPicture(stretch, frame, start, step) {
  const across = stretch && within(stretch, start[0], step[0], -0.5, frame.columns - 0.5);
  return across && within(across, start[1], step[1], -0.5, frame.rows - 0.5);
}

/* Where the slice `other` crosses the picture `frame`: two ends in pixels of `frame`, only as
   far as both pictures reach; null when they are parallel, do not meet, or are not placed. */
export function crossing(frame, other) {
  if (!isPlaced(frame) || !isPlaced(other)) {
    return null;
  }
  const mine = axes(frame);
  const theirs = axes(other);
  const a = dot3(theirs.normal, mine.along) * frame.column_mm;
  const b = dot3(theirs.normal, mine.down) * frame.row_mm;
  const size = a * a + b * b;
  if (size < (PARALLEL * frame.column_mm) ** 2) {
    return null;
  }
  const off = dot3(theirs.normal, minus3(other.position, frame.position));
  const start = [(a * off) / size, (b * off) / size];
  const step = [-b, a].map((value) => value / Math.sqrt(size));
  const stretch = withinPicture([-Infinity, Infinity], frame, start, step);
  const there = (point) => inPixelsOf(other, theirs, inSpace(frame, mine, point));
  const first = there(start);
  const next = there([start[0] + step[0], start[1] + step[1]]);
  const kept = withinPicture(stretch, other, first, [next[0] - first[0], next[1] - first[1]]);
  return kept && kept.map((at) => [start[0] + at * step[0], start[1] + at * step[1]]);
}

function inSpace(frame, { along, down }, [x, y]) {
  return frame.position.map((value, axis) =>
    value + along[axis] * x * frame.column_mm + down[axis] * y * frame.row_mm);
}

function inPixelsOf(frame, { along, down }, place) {
  const away = minus3(place, frame.position);
  return [dot3(away, along) / frame.column_mm, dot3(away, down) / frame.row_mm];
}

/* The patient's sides in the directions of the standard's axes: to left, back and head. */
const SIDES = [["R", "L"], ["front", "back"], ["feet", "head"]];

function sideOf(direction) {
  const sizes = direction.map(Math.abs);
  const axis = sizes.indexOf(Math.max(...sizes));
  return SIDES[axis][direction[axis] > 0 ? 1 : 0];
}

/* Which side of the patient lies on each side of the picture; null when the file is silent. */
export function sides(frame) {
  if (frame?.orientation?.length !== 6) {
    return null;
  }
  const { along, down } = axes(frame);
  const back = (direction) => direction.map((value) => -value);
  return {
    right: sideOf(along), left: sideOf(back(along)),
    bottom: sideOf(down), top: sideOf(back(down)),
  };
}
