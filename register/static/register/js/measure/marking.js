/* Marking as a person does it: which point comes next, where it goes, which one has the
   focus. Mouse, touch and keys all come here. */

import { distance } from "./geometry.js";
import { KNOWN, KNOWN_ENDS } from "./marks.js";

export class Marking {
  constructor(screen, marks, overlay, home) {
    Object.assign(this, { screen, marks, overlay, home });
    this.chosen = null; /* a point that was asked for out of turn */
    this.listeners = [];
  }

  /* Marks belong to one picture of a series. */
  get shown() {
    return this.screen.place === this.home;
  }

  get next() {
    const { chosen, marks } = this;
    return chosen && !marks.at(...chosen) ? chosen : marks.next();
  }

  /* The point that has the focus as [level, name]; null for none. */
  get focused() {
    const key = document.activeElement?.getAttribute?.("data-point");
    return key ? key.split(" ") : null;
  }

  choose(level, name) {
    this.chosen = [level, name];
    this.tell();
  }

  /* Where a point stands or is proposed. */
  placeOf(level, name) {
    return this.marks.at(level, name) || this.marks.proposal(level, name);
  }

  /* The point nearest to a place on the screen, within reach; null for none. Points may lie
     closer together than a finger is wide. */
  nearest(at, reach) {
    const { view } = this.screen;
    const ends = KNOWN_ENDS.map((name) => [KNOWN, name]);
    let found = null;
    let best = reach;
    for (const [level, name] of this.shown ? [...this.marks.all(), ...ends] : []) {
      const place = this.placeOf(level, name);
      const away = place ? distance(view.toScreen(place), at) : Infinity;
      if (away < best) {
        best = away;
        found = [level, name];
      }
    }
    return found;
  }

  /* A click or a tap on a free place of the picture. */
  tap(place) {
    const { columns, rows } = this.screen.frame;
    const inside = place[0] >= -0.5 && place[1] >= -0.5 && place[0] < columns - 0.5 && place[1] < rows - 0.5;
    const target = this.targetOf(place);
    if (inside && this.shown && target) {
      this.put(target, place);
    }
  }

  /* Which point a click means: the next one; but not one that is proposed far from there. Who
     goes on to the next body leaves the proposals of this one standing, dashed. */
  targetOf(place) {
    const { next, marks } = this;
    const proposed = next && next !== this.chosen && marks.proposal(...next);
    const far = proposed && distance(proposed, place) > marks.reach(...next);
    return (far && marks.nextOpen()) || next;
  }

  /* Enter on the picture: a proposal is confirmed, another point goes into the middle. */
  placeNext() {
    const { next } = this;
    if (!next || !this.shown) {
      return;
    }
    const proposed = this.marks.proposal(...next);
    this.put(next, proposed || [this.screen.view.x, this.screen.view.y]);
  }

  put([level, name], place) {
    this.chosen = level === KNOWN && name === "start" ? [KNOWN, "end"] : null;
    this.marks.place(level, name, place);
    this.focus(level, name);
  }

  /* Move by pixels of the picture; a proposal that is moved is a mark from then on. */
  nudge(level, name, [right, down], step) {
    const place = this.placeOf(level, name);
    if (place) {
      this.marks.place(level, name, [place[0] + right, place[1] + down], step);
      this.reveal(level, name);
    }
  }

  confirm(level, name) {
    const proposed = this.marks.proposal(level, name);
    if (proposed) {
      this.marks.place(level, name, proposed);
    }
    const next = this.marks.next();
    if (next && this.placeOf(...next)) {
      this.focus(...next);
    } else {
      this.overlay.svg.focus();
    }
  }

  remove(level, name) {
    this.overlay.svg.focus();
    this.chosen = [level, name];
    this.marks.remove(level, name);
  }

  focus(level, name) {
    this.screen.draw();
    this.overlay.element(level, name).focus({ preventScroll: true });
  }

  reveal(level, name) {
    const place = this.placeOf(level, name);
    if (place && this.screen.view.reveal(place)) {
      this.screen.redraw();
    }
  }

  listen(listener) {
    this.listeners.push(listener);
  }

  tell() {
    this.listeners.forEach((listener) => listener());
  }
}
