/* The marks of one picture: what stands, what comes next, undo and redo. Knows no page.
   A mark is [x, y] in pixels of the file; a name that is missing is not marked. */

import { distance, middleProposal } from "./geometry.js";

const PLACES = 100; /* marks keep a hundredth of a pixel */
const LONGEST = 200; /* steps that can be undone */
const round = (value) => Math.round(value * PLACES) / PLACES;

export const KNOWN = "known";
export const KNOWN_ENDS = ["start", "end"];

export class Marks {
  constructor(start, { levels, level, order, columns, rows }) {
    this.now = JSON.parse(JSON.stringify(start || {}));
    /* The level of interest comes first, its neighbours from above. */
    this.levels = levels.includes(level) ? [level, ...levels.filter((one) => one !== level)] : levels;
    this.order = order;
    this.columns = columns;
    this.rows = rows;
    this.past = [];
    this.future = [];
    this.step = null;
    this.listeners = [];
  }

  at(level, name) {
    return this.now[level]?.[name] || null;
  }

  /* Where a point that is not marked is thought to lie; null without a proposal. */
  proposal(level, name) {
    const place = level === KNOWN || this.at(level, name) ? null : middleProposal(this.now[level], name);
    return place && place.map(round);
  }

  /* Every (level, name) that can be marked, in the order in which it is. */
  all() {
    return this.levels.flatMap((level) => this.order.map((name) => [level, name]));
  }

  /* The next point to mark: of each level first the points that cannot be proposed. */
  next() {
    for (const level of this.levels) {
      const open = this.order.filter((name) => !this.at(level, name));
      const name = open.find((one) => !one.endsWith("_middle")) || open[0];
      if (name) {
        return [level, name];
      }
    }
    return null;
  }

  /* The next point that is neither marked nor proposed. */
  nextOpen() {
    return this.all().find(([level, name]) => !this.at(level, name) && !this.proposal(level, name)) || null;
  }

  /* How far from its proposal a middle point can lie: half the length of its end plate. */
  reach(level, name) {
    const plate = name.replace("_middle", "");
    return distance(this.at(level, `${plate}_anterior`), this.at(level, `${plate}_posterior`)) / 2;
  }

  /* Put a mark. Moves with the same `step` are undone as one. */
  place(level, name, [x, y], step = null) {
    this.remember(step);
    this.now[level] = this.now[level] || {};
    this.now[level][name] = [
      round(Math.min(Math.max(x, 0), this.columns - 1)),
      round(Math.min(Math.max(y, 0), this.rows - 1)),
    ];
    this.tell(level);
  }

  remove(level, name) {
    if (this.at(level, name)) {
      this.remember(null);
      delete this.now[level][name];
      if (!Object.keys(this.now[level]).some((one) => one !== "mm")) {
        delete this.now[level];
      }
      this.tell(level);
    }
  }

  /* The length that the reader says lies between both ends of the known length, as typed. */
  setKnownMm(text) {
    this.remember("known mm");
    this.now[KNOWN] = this.now[KNOWN] || {};
    this.now[KNOWN].mm = text.trim();
    if (!this.now[KNOWN].mm && Object.keys(this.now[KNOWN]).length === 1) {
      delete this.now[KNOWN];
    }
    this.tell(KNOWN);
  }

  remember(step) {
    if (step === null || step !== this.step) {
      this.past.push(JSON.stringify(this.now));
      this.past.splice(0, this.past.length - LONGEST);
    }
    this.step = step;
    this.future = [];
  }

  /* What comes now is a step of its own. */
  closeStep() {
    this.step = null;
  }

  undo() {
    this.swap(this.past, this.future);
  }

  redo() {
    this.swap(this.future, this.past);
  }

  swap(from, to) {
    if (from.length) {
      to.push(JSON.stringify(this.now));
      this.now = JSON.parse(from.pop());
      this.step = null;
      this.tell(null);
    }
  }

  /* `listener(level)` after each change; level is null when anything may have changed. */
  listen(listener) {
    this.listeners.push(listener);
  }

  tell(level) {
    this.listeners.forEach((listener) => listener(level));
  }

  asJson() {
    return JSON.stringify(this.now);
  }
}
