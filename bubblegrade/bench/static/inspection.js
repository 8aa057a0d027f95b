/** The limits' text: begun with a preset or a file, and zones drawn on a casting added to it. */

const text = document.querySelector('textarea[name="limits"]');
const fault = document.getElementById("fault");
const MOST_BYTES = 150_000;

/** @param {string} line */
function complain(line) {
  const words = document.createElement("p");
  words.className = "alarm";
  words.textContent = line;
  fault.replaceChildren(words);
}

const ticks = [...document.querySelectorAll("[data-unticked]")];

/** Tell the form that it was written into, as typing does. */
function written() {
  text.dispatchEvent(new Event("input", { bubbles: true }));
}

/** Say how many photographs are ticked. */
function count() {
  document.getElementById("chosen").textContent = `${ticks.filter((one) => one.checked).length} of ${ticks.length}`;
}

for (const tick of ticks) tick.addEventListener("change", count);
for (const button of document.querySelectorAll("[data-tick]")) {
  button.addEventListener("click", () => {
    for (const tick of ticks) tick.checked = button.dataset.tick === "all";
    count();
    written();
  });
}
for (const button of document.querySelectorAll("[data-preset]")) {
  button.addEventListener("click", () => {
    text.value = button.dataset.preset;
    written();
    text.focus();
  });
}
document.getElementById("file").addEventListener("change", async (event) => {
  const [file] = event.target.files;
  event.target.value = "";
  if (!file) return;
  if (file.size > MOST_BYTES) {
    complain(`${file.name} is over ${MOST_BYTES / 1000} kB, more than limits take.`);
    return;
  }
  text.value = await file.text();
  written();
  text.focus();
});
document.getElementById("take")?.addEventListener("click", async () => {
  const name = document.getElementById("zoned").value;
  const answer = await fetch(`/inspection/zones?${new URLSearchParams({ of: name })}`);
  const words = await answer.json();
  if (!answer.ok) {
    complain(words.fault);
    return;
  }
  const rest = text.value.replace(/^reference\s*=.*\n?/m, "");
  text.value = `${words.top}\n${rest.trimEnd()}\n\n${words.below}`;
  written();
  text.focus();
});
