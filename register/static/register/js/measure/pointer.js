/* Mouse, pen and touch on the picture. A point follows by the way that the pointer goes, not
   by where it is, so that a finger that lands beside it does not shift it. */

const STILL_PX = 5; /* a press that moves less is a click */
const REACH_PX = { mouse: 14, pen: 14, touch: 26 }; /* how near to a point counts as on it */
const WINDOW_PX = 250; /* a drag of so many pixels doubles the window */
const WHEEL_ZOOM = 0.002;
const LINE_PX = 30;

export class Pointer {
  /* `marking` is null where a series is only looked at; `modes.window` says that a plain drag
     sets the window; `setWindow` takes what came of it. */
  constructor(svg, screen, { marking = null, modes = {}, setWindow = () => {} }) {
    Object.assign(this, { svg, screen, marking, modes, setWindow });
    this.down = new Map();
    this.gesture = null;
    svg.addEventListener("pointerdown", (event) => this.press(event));
    svg.addEventListener("pointermove", (event) => this.move(event));
    svg.addEventListener("pointerup", (event) => this.release(event));
    svg.addEventListener("pointercancel", (event) => this.release(event, true));
    svg.addEventListener("contextmenu", (event) => event.preventDefault());
    svg.addEventListener("wheel", (event) => this.wheel(event), { passive: false });
  }

  at(event) {
    const box = this.svg.getBoundingClientRect();
    return [event.clientX - box.left, event.clientY - box.top];
  }

  press(event) {
    if (event.button === 1) {
      return;
    }
    this.svg.setPointerCapture(event.pointerId);
    this.down.set(event.pointerId, this.at(event));
    this.gesture = this.begin(event, this.at(event));
  }

  begin(event, at) {
    const { marking, screen } = this;
    if (this.down.size === 2) {
      return { kind: "pinch" };
    }
    if (event.button === 2 || this.modes.window) {
      return screen.picture.frame ? { kind: "window", from: at, start: screen.picture.shown } : null;
    }
    const near = marking?.nearest(at, REACH_PX[event.pointerType] || REACH_PX.mouse);
    if (near) {
      marking.overlay.element(...near).focus({ preventScroll: true });
      event.preventDefault();
      return { kind: "point", near, from: at, start: marking.placeOf(...near), step: `drag ${event.timeStamp}` };
    }
    return { kind: "open", from: at, last: at, moved: false };
  }

  move(event) {
    const before = this.down.get(event.pointerId);
    const at = this.at(event);
    if (!before || !this.gesture) {
      const over = !before && this.marking?.nearest(at, REACH_PX.mouse);
      this.screen.stage.classList.toggle("stage--over", Boolean(over));
      return;
    }
    this[this.gesture.kind](at, before, event.pointerId);
    this.down.set(event.pointerId, at);
  }

  open(at, before) {
    const { gesture } = this;
    gesture.moved = gesture.moved || Math.hypot(at[0] - gesture.from[0], at[1] - gesture.from[1]) > STILL_PX;
    if (gesture.moved) {
      this.screen.view.pan([at[0] - gesture.last[0], at[1] - gesture.last[1]]);
      gesture.last = at;
      this.screen.redraw();
    }
  }

  point(at) {
    const { near, from, start, step } = this.gesture;
    const [x, y] = this.screen.view.stepOf([at[0] - from[0], at[1] - from[1]]);
    this.gesture.moved = this.gesture.moved || Math.hypot(at[0] - from[0], at[1] - from[1]) > 1;
    if (this.gesture.moved) {
      this.marking.marks.place(...near, [start[0] + x, start[1] + y], step);
    }
  }

  window(at) {
    const { from, start } = this.gesture;
    this.setWindow({
      ...start,
      centre: start.centre + ((at[1] - from[1]) * start.width) / WINDOW_PX,
      width: Math.max(1, start.width * 2 ** ((at[0] - from[0]) / WINDOW_PX)),
    });
  }

  pinch(at, before, id) {
    const [other] = [...this.down].filter(([one]) => one !== id).map(([, place]) => place);
    const apart = (place) => Math.max(Math.hypot(place[0] - other[0], place[1] - other[1]), 1);
    const middle = [(at[0] + other[0]) / 2, (at[1] + other[1]) / 2];
    this.screen.view.pan([(at[0] - before[0]) / 2, (at[1] - before[1]) / 2]);
    this.screen.view.zoomBy(apart(at) / apart(before), middle);
    this.screen.redraw();
  }

  release(event, cancelled = false) {
    if (!this.down.delete(event.pointerId)) {
      return;
    }
    const { gesture } = this;
    this.gesture = null;
    if (this.marking && gesture && !gesture.moved && !cancelled) {
      this.click(gesture);
    }
    this.marking?.tell();
  }

  /* A click on a free place sets the next point; beside a proposed one it says where that is. */
  click({ kind, near, from }) {
    const { view } = this.screen;
    if (kind === "open") {
      this.marking.tap(view.toPicture(from));
    } else if (kind === "point" && this.marking.marks.proposal(...near)) {
      this.marking.marks.place(...near, view.toPicture(from));
    }
  }

  /* With Ctrl the wheel zooms; alone it turns slices, or the page where there is one only. */
  wheel(event) {
    if (event.ctrlKey) {
      event.preventDefault();
      const turned = event.deltaMode === 0 ? event.deltaY : event.deltaY * LINE_PX;
      this.screen.view.zoomBy(Math.exp(-turned * WHEEL_ZOOM), this.at(event));
      this.screen.redraw();
    } else if (this.screen.series) {
      event.preventDefault();
      this.screen.wheel(event);
    }
  }
}
