/* A picture that is marked: the marks, their numbers, the list of points, the loupe, the known
   length and the buttons for them. */

import { keep, standFor, startingMarks } from "./keeping.js";
import { Loupe } from "./loupe.js";
import { Marking } from "./marking.js";
import { KNOWN, Marks } from "./marks.js";
import { Numbers } from "./numbers.js";
import { once } from "./picture.js";
import { PointList } from "./point_list.js";
import { BASIS, readMm, spacingOf } from "./spacing.js";
import { measured } from "./values.js";
import { write } from "./write.js";

export class MarkedView {
  constructor(data, screen, overlay) {
    Object.assign(this, { data, screen, overlay });
    const field = document.getElementById(data.field || "id_marks");
    this.tools = document.querySelector("[data-marking-tools]");
    this.marks = new Marks(startingMarks(field, data.marks), { ...data, ...screen.frame });
    overlay.begin(this.marks, data.names, data);
    this.marking = new Marking(screen, this.marks, overlay, screen.place);
    this.loupe = new Loupe(screen.part("loupe"), screen);
    this.numbers = new Numbers(this.tools, data);
    this.list = new PointList(this.tools.querySelector("[data-points]"), this.marking, data);
    this.active = data.level;
    this.draw = once(() => this.now());
    this.marks.listen((level) => this.moved(level));
    this.marking.listen(() => this.now());
    keep(field, this.marks);
    standFor(field, overlay.svg);
    this.buttons();
    this.knownBox();
    this.followFocus();
    this.now();
  }

  /* What the overlay needs to be drawn. */
  state() {
    return { found: this.found, active: this.active, shown: this.marking.shown };
  }

  moved(level) {
    this.news = true;
    if (level && level !== KNOWN) {
      this.active = level;
    }
    this.draw();
  }

  /* Compute and draw everything that follows from the marks. */
  now() {
    this.spacing = spacingOf(this.screen.frames[this.marking.home], this.marks.now);
    const { view, levels, level, error_mm: errorMm } = this.data;
    this.found = measured({ view, levels, level, errorMm }, this.marks.now, this.spacing);
    this.numbers.draw(this.found, this.marks, this.spacing);
    if (this.news) {
      this.news = false;
      this.numbers.say(this.found, this.active, () => this.inHandWords());
    }
    this.list.draw();
    this.tellState();
    this.loupe.point = this.pointInHand();
    this.screen.changed("view");
  }

  inHandWords() {
    const { focused } = this.marking;
    return focused ? `${this.overlay.element(...focused).getAttribute("aria-label")}.` : "";
  }

  pointInHand() {
    const { focused } = this.marking;
    return focused && this.marking.shown ? this.marking.placeOf(...focused) : null;
  }

  frameChanged() {
    this.loupe.point = this.pointInHand();
    this.tellState();
  }

  tellState() {
    const { next, shown } = this.marking;
    write(this.screen.part("next"), this.hint(next, shown));
    this.screen.stage.classList.toggle("stage--open", Boolean(shown && next));
    write(this.tools.querySelector("[data-basis]"), BASIS[this.spacing.basis]);
    const able = { undo: this.marks.past.length, redo: this.marks.future.length,
      remove: this.last && this.marks.at(...this.last) };
    for (const [name, yes] of Object.entries(able)) {
      this.button(name).setAttribute("aria-disabled", String(!yes));
    }
  }

  hint(next, shown) {
    if (!shown) {
      return `The marks are on ${this.screen.frames[this.marking.home].label}.`;
    }
    return next ? `Next: ${this.overlay.words(...next)}` : "Every point is marked.";
  }

  button(name) {
    return this.tools.querySelector(`[data-do="${name}"]`);
  }

  buttons() {
    const { marking, marks } = this;
    const doing = {
      undo: () => marks.undo(),
      redo: () => marks.redo(),
      remove: () => this.last && marks.at(...this.last) && marking.remove(...this.last),
      known: () => this.beginKnown(),
    };
    for (const [name, work] of Object.entries(doing)) {
      this.button(name).addEventListener("click", work);
    }
  }

  /* The focus says which point the loupe shows and the button takes away. */
  followFocus() {
    const { svg } = this.overlay;
    svg.addEventListener("focusin", () => {
      this.last = this.marking.focused;
      this.marks.closeStep();
      if (this.last) {
        this.active = this.last[0] === KNOWN ? this.active : this.last[0];
        this.marking.reveal(...this.last);
      }
      this.draw();
    });
    svg.addEventListener("focusout", () => this.draw());
  }

  /* --- a length that the reader knows ---------------------------------------- */

  beginKnown() {
    const open = ["start", "end"].find((name) => !this.marks.at(KNOWN, name));
    if (open) {
      this.marking.choose(KNOWN, open);
      this.overlay.svg.focus();
    } else {
      this.marking.focus(KNOWN, "start");
    }
  }

  knownBox() {
    const part = this.tools.querySelector("[data-known]");
    const box = part.querySelector("[data-known-mm]");
    const words = part.querySelector("[data-known-trouble]");
    part.hidden = this.screen.frame.basis === "calibrated";
    box.value = this.marks.now[KNOWN]?.mm || "";
    box.addEventListener("input", () => this.marks.setKnownMm(box.value));
    box.addEventListener("change", () => {
      const typed = box.value.trim();
      words.hidden = !typed || readMm(typed) !== null;
      words.textContent = words.hidden ? "" : "Write the length in figures with a point, for example 25.4.";
    });
    this.marks.listen(() => {
      const mm = this.marks.now[KNOWN]?.mm || "";
      if (document.activeElement !== box && box.value !== mm) {
        box.value = mm;
      }
    });
  }
}
