/* Formulas over places, the same ones as the server's register/domain/measuring, which has the
   last word: what is saved is computed there. Pure. A place is [x, y] in mm, or in widths of a
   pixel where the picture has no scale. A formula answers null where it is not defined. */

export const arrow = (start, end) => [end[0] - start[0], end[1] - start[1]];
export const cross = (one, other) => one[0] * other[1] - one[1] * other[0];
export const dot = (one, other) => one[0] * other[0] + one[1] * other[1];
export const half = (one, other) => [(one[0] + other[0]) / 2, (one[1] + other[1]) / 2];
export const distance = (one, other) => Math.hypot(other[0] - one[0], other[1] - one[1]);
const degrees = (radians) => (radians * 180) / Math.PI;
const still = (way) => way[0] === 0 && way[1] === 0;

/* Mean length of lines given by both their ends, one line after the other. */
export function meanLength(...ends) {
  let sum = 0;
  for (let place = 0; place < ends.length; place += 2) {
    sum += distance(ends[place], ends[place + 1]);
  }
  return sum / (ends.length / 2);
}

/* Length of a line in percent of the mean length of others. */
export function sharePercent(start, end, ...ends) {
  const whole = meanLength(...ends);
  return whole ? (distance(start, end) / whole) * 100 : null;
}

/* Angle between two end plates, positive when they close to the front (kyphosis). Which way is
   down and which way is forwards comes from the marks alone: turning or mirroring the picture
   changes nothing. */
export function openingDeg(upperFront, upperBack, lowerFront, lowerBack) {
  const upper = arrow(upperBack, upperFront);
  const lower = arrow(lowerBack, lowerFront);
  const down = arrow(half(upperFront, upperBack), half(lowerFront, lowerBack));
  const hand = cross([upper[0] + lower[0], upper[1] + lower[1]], down);
  if (!hand || still(upper) || still(lower)) {
    return null;
  }
  const turn = degrees(Math.atan2(cross(lower, upper), dot(lower, upper)));
  return hand > 0 ? turn : -turn;
}

/* How steeply a line falls towards its first end, against the rows of the picture. */
export function fallDeg(lowSide, highSide) {
  const way = arrow(highSide, lowSide);
  return still(way) ? null : degrees(Math.atan2(way[1], Math.abs(way[0])));
}

/* --- axial: the line of the back wall and what lies behind it ----------------- */

function side(left, right, place) {
  const wall = distance(left, right);
  return wall ? cross(arrow(left, right), arrow(left, place)) / wall : null;
}

export function fromWall(left, right, place) {
  const found = side(left, right, place);
  return found === null ? null : Math.abs(found);
}

/* How far a place lies behind the wall, on the side of the lamina; below 0 in front. */
export function behindWall(left, right, back, place) {
  const canal = side(left, right, back);
  const found = side(left, right, place);
  if (!canal || found === null) {
    return null;
  }
  return canal > 0 ? found : -found;
}

/* How much of the depth of the canal the fragment takes, in percent. */
export function encroachment(left, right, back, place) {
  const deep = fromWall(left, right, back);
  const taken = behindWall(left, right, back, place);
  return !deep || taken === null ? null : (taken / deep) * 100;
}

/* --- marks ------------------------------------------------------------------- */

/* {level: {name: [x, y]}} in pixels of the file -> the same in mm. */
export function onPlane(marks, spacing) {
  const placed = {};
  for (const [level, points] of Object.entries(marks)) {
    if (level !== "known") {
      placed[level] = Object.fromEntries(Object.entries(points)
        .map(([name, [x, y]]) => [name, [x * spacing.column_mm, y * spacing.row_mm]]));
    }
  }
  return placed;
}

/* Where a middle point most likely lies: half way between the corners of its end plate. */
export function middleProposal(points, name) {
  const found = /^(upper|lower)_middle$/.exec(name);
  const front = found && points?.[`${found[1]}_anterior`];
  const back = found && points?.[`${found[1]}_posterior`];
  return front && back ? half(front, back) : null;
}
