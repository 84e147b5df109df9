/* The list of points beside the picture: what is marked, what is next, and a way to each
   point for keyboard and finger. */

import { write } from "./write.js";

const STATES = { marked: "marked", proposed: "proposed", next: "next", open: "not marked" };

export class PointList {
  constructor(root, marking, data) {
    Object.assign(this, { root, marking, data });
    this.buttons = new Map();
    marking.marks.levels.forEach((level) => this.build(level));
  }

  build(level) {
    const part = document.createElement("details");
    part.className = "points__level";
    part.open = level === this.data.level;
    const title = document.createElement("summary");
    title.append(`${level} `);
    const count = document.createElement("span");
    count.className = "muted";
    title.append(count);
    const list = document.createElement("ol");
    list.className = "points__list";
    this.data.order.forEach((name) => list.append(this.item(level, name)));
    part.append(title, list);
    this.root.append(part);
    this.buttons.set(level, { count, part });
  }

  item(level, name) {
    const line = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "points__one";
    const state = document.createElement("span");
    state.className = "points__state";
    button.append(`${this.data.names[name]} `, state);
    button.addEventListener("click", (event) => this.pressed(level, name, event.detail === 0));
    line.append(button);
    this.buttons.set(`${level} ${name}`, { button, state });
    return line;
  }

  /* With the mouse: this one is next. With a key: go to it, into the middle if need be. */
  pressed(level, name, byKey) {
    const { marking } = this;
    if (marking.placeOf(level, name)) {
      marking.reveal(level, name);
      marking.focus(level, name);
      return;
    }
    marking.choose(level, name);
    if (byKey) {
      marking.placeNext();
    }
  }

  stateOf(level, name, next) {
    const { marks } = this.marking;
    if (marks.at(level, name)) {
      return "marked";
    }
    if (next && next[0] === level && next[1] === name) {
      return "next";
    }
    return marks.proposal(level, name) ? "proposed" : "open";
  }

  draw() {
    const { next, marks } = this.marking;
    for (const level of marks.levels) {
      const there = this.data.order.filter((name) => marks.at(level, name)).length;
      write(this.buttons.get(level).count, `${there} of ${this.data.order.length} marked`);
      for (const name of this.data.order) {
        const { button, state } = this.buttons.get(`${level} ${name}`);
        const now = this.stateOf(level, name, next);
        if (button.dataset.state !== now) {
          button.dataset.state = now;
          state.textContent = STATES[now];
        }
      }
    }
  }
}
