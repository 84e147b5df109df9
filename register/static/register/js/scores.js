/* Entering a contact by keyboard: Enter leads to the next box, the department's
   instruction shows as soon as a warning sign is ticked, and typing is kept on
   the server. Without this file the form works with Tab, and is saved as usual. */
"use strict";

(function () {
  const form = document.querySelector("form[data-scores]");
  if (!form) {
    return;
  }

  /* --- Enter: the next box; on the button it saves. ------------------------ */
  form.addEventListener("keydown", function (event) {
    const box = event.target;
    if (event.key !== "Enter" || event.isComposing || !box.matches("input, select")) {
      return;
    }
    event.preventDefault();
    const stops = [...form.querySelectorAll("[data-next]")].filter((stop) => stop.offsetParent);
    const next = stops.find(
      (stop) => box.compareDocumentPosition(stop) & Node.DOCUMENT_POSITION_FOLLOWING,
    );
    if (next) {
      next.focus();
      if (next.select) {
        next.select();
      }
    }
  });
  if (!document.querySelector(".error-summary")) {
    form.querySelector("[data-next]").focus();
  }

  /* --- what only matters after an answer ----------------------------------- */
  const proxy = form.querySelector("[data-proxy]");
  const signs = form.querySelector("[data-signs]");
  const urgent = form.querySelector("[data-urgent]");
  function show() {
    const who = form.elements.informant.value;
    proxy.hidden = who === "" || who === "patient";
    const ticked = form.querySelector("input[name=red_flags]:checked");
    const there = form.elements.red_flag_check.value === "some" || Boolean(ticked);
    signs.hidden = !there;
    if (there) {
      urgent.setAttribute("role", "alert");
    } else {
      urgent.removeAttribute("role");
    }
  }
  form.addEventListener("change", show);
  show();

  /* --- typing is kept ------------------------------------------------------ */
  const trouble = form.querySelector("[data-trouble]");
  let timer = 0;
  let waiting = false;

  function tell(words) {
    trouble.hidden = words === "";
    trouble.textContent = words;
  }

  async function keep() {
    clearTimeout(timer);
    waiting = false;
    try {
      const answer = await fetch(form.dataset.draft, {
        method: "POST",
        body: new FormData(form),
        redirect: "manual",
      });
      if (answer.ok || answer.status === 422) {
        tell("");
        return true;
      }
      const isOut = answer.type === "opaqueredirect" || answer.status === 403;
      tell(isOut
        ? "You have been signed out. Sign in again in another tab, come back here and go on: what you typed stays on this page."
        : "The register could not keep this just now. What you typed stays on this page; save again in a moment.");
    } catch {
      tell("No connection. Nothing is saved at the moment; what you typed stays on this page.");
    }
    return false;
  }

  form.addEventListener("input", function () {
    waiting = true;
    clearTimeout(timer);
    timer = setTimeout(keep, 1500);
  });

  /* Coming back after signing in again: the page needs the new session's token. */
  window.addEventListener("focus", async function () {
    if (trouble.hidden) {
      return;
    }
    try {
      const answer = await fetch(location.href, { redirect: "manual" });
      if (!answer.ok) {
        return;
      }
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const token = page.querySelector("input[name=csrfmiddlewaretoken]");
      document.querySelectorAll("input[name=csrfmiddlewaretoken]").forEach((box) => { box.value = token.value; });
      await keep();
    } catch {
      /* still no connection: the words on the page stay */
    }
  });

  /* Before saving: if the server would not take it now, nothing is sent and nothing lost. */
  form.addEventListener("submit", async function (event) {
    if (form.dataset.checked) {
      delete form.dataset.checked;
      return;
    }
    event.preventDefault();
    if (form.dataset.asking) {
      return;
    }
    form.dataset.asking = "yes";
    const button = event.submitter;
    const taken = await keep();
    delete form.dataset.asking;
    if (taken) {
      form.dataset.checked = "yes";
      form.requestSubmit(button);
    } else {
      trouble.scrollIntoView({ block: "center" });
    }
  });

  window.addEventListener("pagehide", function () {
    if (waiting) {
      navigator.sendBeacon(form.dataset.draft, new FormData(form));
    }
  });
})();
