/* Unfinished typing is kept on the server while somebody types; nothing of it is put
   into an address or stored in the browser. Without this file a form is still kept when
   it is sent after signing out. */
"use strict";

(function () {
  const me = document.currentScript;
  const KEEP = me.dataset.keep;
  const TOKEN = me.dataset.token;
  const PAUSE_MS = 1500; /* after the last key */
  const TYPED = "textarea, select, input:not([type=hidden]):not([type=submit]):not([type=file])";

  /* A form for entry is one of ours that has boxes, and no secret in them. */
  function isEntry(form) {
    return form && form.method === "post" && form.elements.form_page && !("noDraft" in form.dataset)
      && form.querySelector(TYPED) && !form.querySelector("input[type=password]");
  }

  function content(form) {
    const typed = new FormData(form);
    typed.set("draft_for", new URL(form.action).pathname);
    return typed;
  }

  function tell(form, words) {
    let place = form.querySelector(".kept-trouble");
    if (!place && words) {
      place = document.createElement("p");
      place.className = "kept-trouble notice notice--attention";
      place.setAttribute("role", "alert");
      (form.querySelector(".form__buttons, .actions") || form).prepend(place);
    }
    if (place) {
      place.hidden = words === "";
      place.textContent = words;
    }
  }

  const timers = new Map(); /* form -> timer; a form in it holds typing that is not kept yet */

  async function keep(form) {
    clearTimeout(timers.get(form));
    timers.delete(form);
    try {
      const answer = await fetch(KEEP, {
        method: "POST",
        body: content(form),
        headers: { Accept: "application/json" },
      });
      if (answer.ok) {
        tell(form, "");
      } else if (answer.status === 422) {
        tell(form, (await answer.json()).words);
      } else if (answer.status === 401 || answer.status === 403) {
        tell(form, "You have been signed out. Sign in again in another tab and come back: what you typed stays on this page. If you save now, you are asked to sign in first, and then it comes back.");
      } else {
        tell(form, "The register could not keep this just now. What you typed stays on this page.");
      }
    } catch {
      tell(form, "No connection. Nothing is saved at the moment; what you typed stays on this page.");
    }
  }

  function later(event) {
    const form = event.target.form;
    if (isEntry(form)) {
      clearTimeout(timers.get(form));
      timers.set(form, setTimeout(() => keep(form), PAUSE_MS));
    }
  }
  document.addEventListener("input", later);
  document.addEventListener("change", later);

  /* A save takes its typing along; what is kept must not come after it. */
  document.addEventListener("submit", function (event) {
    if (!event.defaultPrevented) {
      clearTimeout(timers.get(event.target));
      timers.delete(event.target);
    }
  });

  window.addEventListener("pagehide", function () {
    timers.forEach((timer, form) => navigator.sendBeacon(KEEP, content(form)));
    timers.clear();
  });

  /* A page that was left and comes back, by Back or from another tab, may be older than
     the sign-in: it gets the token that counts now. Its own number stays, so that the
     same form sent again is still known as the same. */
  async function renew() {
    try {
      const answer = await fetch(TOKEN, { headers: { Accept: "application/json" } });
      if (!answer.ok) {
        return;
      }
      const now = await answer.json();
      document.querySelectorAll("input[name=csrfmiddlewaretoken]").forEach((box) => { box.value = now.token; });
      document.querySelectorAll("form").forEach(function (form) {
        if (form.querySelector(".kept-trouble:not([hidden])")) {
          keep(form);
        }
      });
    } catch {
      /* no connection: the page stays as it is, and saving will say so */
    }
  }
  window.addEventListener("pageshow", (event) => { if (event.persisted) { renew(); } });
  let left = 0;
  document.addEventListener("visibilitychange", function () {
    if (document.visibilityState === "hidden") {
      left = Date.now();
    } else if (left && Date.now() - left > 3000) {
      renew();
    }
  });
})();
