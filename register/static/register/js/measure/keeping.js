/* The marks are the value of an ordinary box of the form. Each change is written there and
   told like typing, so that unfinished work is kept on the server as all typing is. */

/* What the box holds, else what the page was made with. */
export function startingMarks(field, given) {
  try {
    const kept = JSON.parse(field?.value || "null");
    return kept && typeof kept === "object" ? kept : given || {};
  } catch {
    return given || {};
  }
}

export function keep(field, marks) {
  marks.listen(() => {
    if (field) {
      field.value = marks.asJson();
      field.dispatchEvent(new Event("input", { bubbles: true }));
    }
  });
}

/* The picture stands for the box: its letters are for the form alone. What is wrong with the
   marks stays to be read, and a link to the box leads to the picture. */
export function standFor(field, picture) {
  if (!field) {
    return;
  }
  const around = field.closest(".field") || field;
  if (around.classList.contains("field--error")) {
    field.hidden = true;
  } else {
    around.hidden = true;
  }
  document.querySelectorAll(`a[href="#${field.id}"]`).forEach((link) =>
    link.addEventListener("click", (event) => {
      event.preventDefault();
      event.stopPropagation();
      picture.focus();
      picture.scrollIntoView({ block: "nearest" });
    }));
}

/* A film that was shown reversed is told by a box of the form, if there is one. */
export function startingMirror(field, given) {
  return field ? field.checked : Boolean(given);
}

export function keepMirror(field, mirrored) {
  if (field && field.checked !== mirrored) {
    field.checked = mirrored;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
}
