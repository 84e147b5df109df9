/* While a file is written, how far it has come stands on the page: beside the button that
   was pressed, and for whoever opens the file meanwhile. Without this file the words beside
   the button say how long it takes, and a link looks again. */
"use strict";

(function () {
  const EVERY_MS = 700;

  /* Show the progress again and again; atEnd is called when nobody writes any more. */
  function follow(address, place, atEnd) {
    const timer = setInterval(async function () {
      let words = "";
      try {
        const answer = await fetch(address, { credentials: "same-origin" });
        if (!answer.ok) {
          return;
        }
        words = (await answer.text()).trim();
      } catch {
        return; /* the network was away for a moment */
      }
      if (words) {
        place.innerHTML = words;
      } else if (atEnd) {
        clearInterval(timer);
        atEnd();
      }
    }, EVERY_MS);
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
