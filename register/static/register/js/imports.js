/* While a file is written, its progress stands beside the button. Without this file
   the button alone says that it is being written. */
"use strict";

document.addEventListener("submit", function (event) {
  const address = event.target.dataset.progress;
  const place = event.target.querySelector(".progress");
  if (!address || !place) {
    return;
  }
  setInterval(async function () {
    const answer = await fetch(address, { credentials: "same-origin" });
    const words = answer.ok ? await answer.text() : "";
    if (words.trim()) {
      place.innerHTML = words;
    }
  }, 700);
});
