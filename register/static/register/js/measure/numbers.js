/* The live numbers beside the picture: one column for each level that is marked, one row for
   each quantity; and, once the hand rests, a sentence for those who hear the page. */

import { inWords } from "./values.js";

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

function said(found, unit, spacing) {
  if (found) {
    return inWords(found, "");
  }
  return unit === "mm" && spacing.basis === "none" ? "no scale" : "not marked";
}

export class Numbers {
  constructor(root, data) {
    this.data = data;
    this.table = root.querySelector("[data-numbers]");
    this.spans = root.querySelector("[data-spans]");
    this.status = root.querySelector("[data-said]");
    this.timer = null;
  }

  /* Columns: the level of interest, and every other one with a mark, from above. */
  shownLevels(marks) {
    return this.data.levels.filter((level) => level === this.data.level || marks.now[level]);
  }

  draw(found, marks, spacing) {
    const levels = this.shownLevels(marks);
    const shape = levels.join(" ");
    if (shape !== this.shape) {
      this.shape = shape;
      this.build(found, levels);
    }
    for (const row of found.rows) {
      for (const level of levels) {
        const place = this.cells.get(`${row.key} ${level}`);
        const words = said(row.at[level], row.unit, spacing);
        place.classList.toggle("missing", !row.at[level]);
        if (place.textContent !== words) {
          place.textContent = words;
        }
      }
    }
    this.spans.replaceChildren(...found.spans.filter((span) => span.value).map((span) => {
      const line = document.createElement("div");
      cell(line, "dt", span.words);
      cell(line, "dd", inWords(span.value, span.unit));
      return line;
    }));
  }

  build(found, levels) {
    this.cells = new Map();
    const head = document.createElement("tr");
    cell(head, "th", "Measured", "col");
    levels.forEach((level) => cell(head, "th", level, "col").classList.add("figure"));
    const rows = found.rows.map((row) => {
      const line = document.createElement("tr");
      cell(line, "th", `${row.words}, ${row.unit}`, "row");
      levels.forEach((level) => {
        const made = cell(line, "td", "");
        made.className = "figure";
        this.cells.set(`${row.key} ${level}`, made);
      });
      return line;
    });
    this.table.tHead.replaceChildren(head);
    this.table.tBodies[0].replaceChildren(...rows);
  }

  /* Say what was measured at a level, once nothing has moved for a while. */
  say(found, level) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      const words = found.rows.filter((row) => row.at[level])
        .map((row) => `${row.words.toLowerCase()} ${inWords(row.at[level], row.unit)}`);
      this.status.textContent = words.length ? `${level}: ${words.join(", ")}.` : "";
    }, REST_MS);
  }
}
