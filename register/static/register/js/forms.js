/* Forms. Without this file every form still works; the server refuses a second
   press by itself. */
"use strict";

(function () {
  /* The list of errors is what a person must read first, also in a swapped fragment. */
  function showErrors(where) {
    where.querySelector(".error-summary")?.focus();
  }
  showErrors(document);
  document.addEventListener("htmx:afterSwap", (event) => showErrors(event.target));

  /* A link of the summary leads into the box, not only near it. */
  document.addEventListener("click", function (event) {
    const link = event.target.closest(".error-summary a[href^='#']");
    const box = link && document.getElementById(link.hash.slice(1));
    if (box) {
      event.preventDefault();
      box.focus();
      box.closest(".field, .group")?.scrollIntoView({ block: "nearest" });
    }
  });

  /* Then the form can be sent again, for example after a download. A form whose answer takes
     long says so itself, in seconds. */
  const PATIENCE_S = 10;

  function ready(form) {
    delete form.dataset.sent;
    form.querySelectorAll("[data-words]").forEach(function (button) {
      button.textContent = button.dataset.words;
      button.removeAttribute("aria-disabled");
    });
  }

  /* The second press of a button does nothing, and the button says why. */
  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (form.method !== "post" || event.defaultPrevented) {
      return;
    }
    if (form.dataset.sent) {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    setTimeout(() => ready(form), 1000 * (Number(form.dataset.patience) || PATIENCE_S));
    const button = event.submitter;
    if (button) {
      button.setAttribute("aria-disabled", "true");
      button.dataset.words = button.textContent;
      /* After the browser has read the button's value. */
      setTimeout(() => { button.textContent = button.dataset.wait || "Saving…"; }, 0);
    }
  });

  /* Coming back with the browser's Back button: the form can be sent again. */
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(ready);
  });

  /* A whole date pasted into the day box goes into its three boxes, read day
     first, with the month as a word: the reader sees at once how it was read. */
  const MONTHS = "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec".split(" ");
  document.addEventListener("paste", function (event) {
    const group = event.target.closest("[data-three-boxes]");
    const boxes = group ? group.querySelectorAll("input[type=text]") : [];
    if (boxes.length !== 3 || event.target !== boxes[0]) {
      return;
    }
    const found = /^\s*(\d{1,2})[\s./-]+(\d{1,2}|[A-Za-z]{3,9})[\s./-]+(\d{4})\s*$/
      .exec(event.clipboardData.getData("text"));
    if (!found) {
      return;
    }
    event.preventDefault();
    const month = /^\d/.test(found[2]) ? MONTHS[Number(found[2]) - 1] || found[2] : found[2];
    [found[1], month, found[3]].forEach((text, place) => { boxes[place].value = text; });
  });
})();
