/* Puts the parts of the viewer together on its page. */

import { companionsOf } from "./companions.js";
import { Keys } from "./keys.js";
import { MarkedView } from "./marked_view.js";
import { Overlay } from "./overlay.js";
import { crossing } from "./planes.js";
import { Pointer } from "./pointer.js";
import { keepMirror, startingMirror } from "./keeping.js";
import { Screen } from "./screen.js";
import { Tools } from "./tools.js";

const root = document.querySelector("[data-viewer]");
const data = JSON.parse(document.getElementById("viewer-data").textContent);

function start() {
  document.querySelectorAll("[data-live]").forEach((part) => { part.hidden = false; });
  const mirrorField = document.getElementById(data.mirrored_field || "id_mirrored");
  const svg = root.querySelector("[data-marks]");
  const modes = { window: false };
  let parts = null; /* nothing is drawn before all parts are there */
  const screen = new Screen(root, data.frames, {
    place: data.start || 0,
    mirrored: startingMirror(mirrorField, data.mirrored),
    changed: (what) => parts && changed(what),
  });
  const overlay = new Overlay(svg, screen.view);
  const marked = data.view === "look" ? null : new MarkedView(data, screen, overlay);
  const mirror = () => {
    screen.view.mirrored = !screen.view.mirrored;
    keepMirror(mirrorField, screen.view.mirrored);
    screen.redraw();
    return screen.view.mirrored;
  };
  const tools = new Tools(root, screen, modes, mirror);
  const companions = companionsOf(root, data, screen);
  new Pointer(svg, screen, { marking: marked?.marking, modes, setWindow: (window) => tools.setWindow(window) });
  new Keys(svg, screen, marked?.marking);
  mirrorField?.addEventListener("change", () => mirrorField.checked !== screen.view.mirrored && tools.toggle("mirror", mirror()));

  function changed(what) {
    if (what === "frame") {
      tools.tellFrame();
      companions.forEach((one) => one.draw());
      marked?.frameChanged();
    }
    const crossings = companions.map((one) => crossing(screen.frame, one.screen.frame)).filter(Boolean);
    overlay.draw({ crossings, ...(marked?.state() || {}) });
    marked?.loupe.draw();
  }

  parts = { tools, companions };
  root.classList.add("viewer--ready");
  screen.go(screen.place);
}

if (root && data.frames.length) {
  start();
}
