/* While a file is written, how far it has come stands on the page: beside the button that
   was pressed, and for whoever opens the file meanwhile. Without this file the words beside
   the button say how long it takes, and a link looks again. */
"use strict";

(function () {
  const EVERY_MS = 1500; /* each change is read out */

  /* Show the progress until nobody writes any more; then call atEnd, where there is one. */
  async function follow(address, place, atEnd) {
    let shown = "";
    for (;;) {
      await new Promise((later) => { setTimeout(later, EVERY_MS); });
      let words = shown;
      try {
        const answer = await fetch(address, { credentials: "same-origin" });
        words = answer.ok ? (await answer.text()).trim() : shown;
      } catch {
        continue; /* the network was away for a moment */
      }
      if (!words && atEnd) {
        atEnd();
        return;
      }
      if (words && words !== shown) {
        place.innerHTML = shown = words;
      }
    }
  }

  document.addEventListener("submit", function (event) {
    const place = event.target.querySelector(".progress");
    if (event.target.dataset.progress && place) {
      follow(event.target.dataset.progress, place);
    }
  });

  document.querySelectorAll(".progress[data-progress]").forEach(function (place) {
    follow(place.dataset.progress, place, () => location.replace(location.href));
  });
})();
