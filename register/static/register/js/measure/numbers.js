/* The live numbers beside the picture: one column for each level that is marked, one row for
   each quantity that the scale allows; and, once the hand rests, a sentence for those who hear
   the page. */

import { inWords } from "./values.js";
import { write } from "./write.js";

const REST_MS = 1200;

function cell(row, name, text, scope = "") {
  const made = document.createElement(name);
  made.textContent = text;
  if (scope) {
    made.scope = scope;
  }
  row.append(made);
  return made;
}

export class Numbers {
  constructor(root, data) {
    this.data = data;
    this.table = root.querySelector("[data-numbers]");
    this.spans = root.querySelector("[data-spans]");
    this.status = root.querySelector("[data-said]");
    this.timer = null;
  }

  draw(found, marks, spacing) {
    /* The level of interest, and every other one with a mark, from above. */
    const levels = this.data.levels.filter((level) => level === this.data.level || marks.now[level]);
    const rows = found.rows.filter((row) => row.unit !== "mm" || spacing.basis !== "none");
    const shape = `${levels} ${rows.length}`;
    if (shape !== this.shape) {
      this.shape = shape;
      this.build(rows, levels);
    }
    for (const row of rows) {
      for (const level of levels) {
        const place = this.cells.get(`${row.key} ${level}`);
        const words = inWords(row.at[level], "") || "not marked";
        place.classList.toggle("missing", !row.at[level]);
        write(place, words);
      }
    }
    this.drawSpans(found.spans.filter((span) => span.value));
  }

  drawSpans(spans) {
    while (this.spans.children.length > spans.length) {
      this.spans.lastElementChild.remove();
    }
    spans.forEach((span, place) => {
      const line = this.spans.children[place] || this.spanLine();
      write(line.firstElementChild, span.words);
      write(line.lastElementChild, inWords(span.value, span.unit));
    });
  }

  spanLine() {
    const line = document.createElement("div");
    cell(line, "dt", "");
    cell(line, "dd", "");
    this.spans.append(line);
    return line;
  }

  build(rows, levels) {
    this.cells = new Map();
    const head = document.createElement("tr");
    cell(head, "th", "Measured", "col");
    levels.forEach((level) => cell(head, "th", level, "col"));
    const lines = rows.map((row) => {
      const line = document.createElement("tr");
      cell(line, "th", `${row.words}, ${row.unit}`, "row");
      levels.forEach((level) => this.cells.set(`${row.key} ${level}`, cell(line, "td", "")));
      return line;
    });
    this.table.tHead.replaceChildren(head);
    this.table.tBodies[0].replaceChildren(...lines);
  }

  /* Say where the point in hand is (`where`, asked for only then) and what was measured at a
     level, once nothing has moved for a while. */
  say(found, level, where) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      const words = found.rows.filter((row) => row.at[level])
        .map((row) => `${row.words.toLowerCase()} ${inWords(row.at[level], row.unit)}`);
      this.status.textContent = `${where()} ${words.length ? `${level}: ${words.join(", ")}.` : ""}`.trim();
    }, REST_MS);
  }
}
