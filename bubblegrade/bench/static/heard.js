/** What a screen reader is told: a line wherever the focus is, and at a field that a fault is about it. */

const heard = document.getElementById("heard");

/** Tell a line. @param {string} line */
export function hear(line) {
  if (heard.textContent !== line) heard.textContent = line;
}

/**
 * Mark the fields that a fault is about, and no others.
 * @param {HTMLElement} form
 * @param {string} by id of what says the fault
 * @param {{fields?: string[], row?: string}} [fault] with the photograph of its row, or the row's place
 */
export function blame(form, by, { fields = [], row = "" } = {}) {
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
  const rows = [...form.querySelectorAll("[data-row]")];
  const own = (one) => one.querySelector('input[type="hidden"][name="photo"]')?.value === row;
  const within = row ? rows.find(own) ?? rows[row] : form;
  for (const name of fields) {
    const field = within?.querySelector(`[name="${name}"]`);
    field?.setAttribute("aria-invalid", "true");
    field?.setAttribute("aria-describedby", by);
    field?.closest("details")?.setAttribute("open", "");
  }
}
