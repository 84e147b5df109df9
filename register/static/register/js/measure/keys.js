/* The whole work without a mouse. On the picture: Enter sets the next point, space with an
   arrow shifts the picture, arrows alone turn slices. On a point: arrows move it. */

const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const PAN_PX = 60;
const ZOOM = 1.25;
const STEP = 1; /* pixels of the file */
const FINE = 0.1;
const COARSE = 10;

export class Keys {
  constructor(svg, screen, marking = null) {
    Object.assign(this, { screen, marking, space: false });
    svg.addEventListener("keydown", (event) => this.pressed(event));
    svg.addEventListener("keyup", (event) => {
      this.space = this.space && event.key !== " ";
    });
    svg.addEventListener("blur", () => { this.space = false; }, true);
  }

  pressed(event) {
    if (this.taken(event)) {
      event.preventDefault();
    }
  }

  /* Whether the key meant something here. */
  taken(event) {
    if (event.key === " ") {
      this.space = true;
      return true;
    }
    if (event.altKey || (event.metaKey && !/^[zZ]$/.test(event.key))) {
      return false;
    }
    if (this.space && event.key in ARROWS) {
      const [right, down] = ARROWS[event.key];
      this.screen.view.pan([-right * PAN_PX, -down * PAN_PX]);
      this.screen.redraw();
      return true;
    }
    return this.undo(event) || this.onPoint(event) || this.zoom(event) || this.onPicture(event);
  }

  undo(event) {
    const back = (event.ctrlKey || event.metaKey) && event.key.toLowerCase();
    if (!this.marking || !(back === "z" || back === "y")) {
      return false;
    }
    if (back === "y" || event.shiftKey) {
      this.marking.marks.redo();
    } else {
      this.marking.marks.undo();
    }
    return true;
  }

  onPoint(event) {
    const focused = this.marking?.focused;
    if (!focused) {
      return false;
    }
    if (event.key in ARROWS) {
      this.marking.nudge(...focused, this.stepOf(event), `key ${focused.join(" ")}`);
    } else if (event.key === "Enter") {
      this.marking.confirm(...focused);
    } else if (event.key === "Delete" || event.key === "Backspace") {
      this.marking.remove(...focused);
    } else if (event.key === "Escape") {
      this.marking.overlay.svg.focus();
    } else {
      return false;
    }
    return true;
  }

  /* Right on the screen is right for the person, also where the film is mirrored. */
  stepOf(event) {
    const size = event.shiftKey ? FINE : event.ctrlKey ? COARSE : STEP;
    const [right, down] = ARROWS[event.key];
    return [right * size * this.screen.view.side, down * size];
  }

  zoom(event) {
    const factor = { "+": ZOOM, "=": ZOOM, "-": 1 / ZOOM }[event.key];
    if (event.ctrlKey || !(factor || event.key === "0")) {
      return false;
    }
    if (factor) {
      this.screen.view.zoomBy(factor);
    } else {
      this.screen.view.fit();
    }
    this.screen.redraw();
    return true;
  }

  onPicture(event) {
    if (event.key === "Enter" && this.marking) {
      this.marking.placeNext();
      return true;
    }
    const place = this.screen.series && !event.ctrlKey ? this.screen.placeOf(event.key) : null;
    if (place === null) {
      return false;
    }
    this.screen.go(place);
    return true;
  }
}
