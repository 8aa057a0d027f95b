/** The tray: photographs dropped in, and what becomes of them. */

import { blame, hear } from "/static/heard.js";
import { GONE, send, sendFile } from "/static/send.js";

const cards = document.getElementById("cards");
const coming = document.getElementById("coming");
const form = document.getElementById("asked");
const zone = document.getElementById("drop");
const choices = [...form.querySelectorAll("[data-photographs]")];
const awaited = new Set(); // photographs that were seen on their way to be graded, until it is told what became of them
const MOST_TOLD = 5;
const LOOK_MS = 700;
const HELD = "tray"; // under which this tab keeps the form from one look at the tray to the next
let looking = 0;
let underway = null; // what stops the file that is on its way
let wanted = 0; // grows when no more of the files that were dropped are wanted

/** How the form says to grade. */
function asked() {
  return Object.fromEntries(new FormData(form));
}

/** Keep the form while this tab is open: what is dropped after another page was seen is graded alike. */
function hold() {
  sessionStorage.setItem(HELD, JSON.stringify(asked()));
}

/** Fill in the form as it was. */
function fill() {
  const held = JSON.parse(sessionStorage.getItem(HELD) || "null");
  if (!held) return;
  for (const field of form.elements) {
    if (!field.name) continue;
    const value = held[field.name] ?? "";
    if (field.type === "checkbox") field.checked = value === field.value;
    else if (!field.options || [...field.options].some((one) => one.value === value)) field.value = value;
    const more = field.closest("details");
    if (more && value) more.open = true;
  }
}

/** @param {string} html */
function show(html) {
  const fresh = document.createElement("template");
  fresh.innerHTML = html;
  for (const card of fresh.content.querySelectorAll(".card")) {
    const old = [...cards.children].find((one) => one.dataset.name === card.dataset.name);
    if (!old) {
      const after = [...cards.children].find((one) => one.dataset.name > card.dataset.name);
      cards.insertBefore(card, after || null);
    } else if (old.innerHTML !== card.innerHTML) {
      const image = old.querySelector("img");
      card.querySelector("img").replaceWith(image);
      const held = old.contains(document.activeElement) && document.activeElement.tagName;
      old.replaceWith(card);
      if (held) card.querySelector(held.toLowerCase())?.focus();
    }
  }
  for (const button of cards.querySelectorAll("[data-cancel]")) awaited.add(button.dataset.cancel);
  offer();
  document.getElementById("empty").hidden = cards.children.length > 0;
  document.getElementById("all").hidden = ungraded().length === 0;
}

/** Tell what became of the photographs that were awaited: of one all, of several those with a fault. */
function outcome() {
  const here = [...cards.children].filter((one) => awaited.has(one.dataset.name));
  const failed = here.filter((one) => !one.matches(".graded") || one.querySelector(".alarm"));
  const told = here.length === 1 ? here : here.filter((one) => failed.includes(one) || one.querySelector(".warn"));
  const words = (card) => [...card.querySelectorAll(".says")].map((one) => one.textContent.trim().replace(/\s+/g, " "));
  const lines = told.slice(0, MOST_TOLD).map((card) => `${card.dataset.name}: ${words(card).join("; ")}`);
  if (told.length > MOST_TOLD) lines.push(`and ${told.length - MOST_TOLD} more`);
  if (here.length > 1) lines.unshift(`${here.length - failed.length} of ${here.length} photographs graded`);
  awaited.clear();
  return lines.join(". ");
}

/** The photographs that nobody has asked to grade, and that are not there to grade others with. */
function ungraded() {
  const helping = choices.map((one) => one.value);
  const names = [...cards.querySelectorAll(".card:not(.graded) [data-grade]")].map((one) => one.dataset.grade);
  return names.filter((name) => !helping.includes(name));
}

/** Let every photograph of the tray be chosen as bare backlight or second photograph. */
function offer() {
  const names = [...cards.children].map((one) => one.dataset.name);
  for (const choice of choices) {
    const held = [...choice.options].slice(1).map((one) => one.value);
    if (held.join("\n") === names.join("\n")) continue;
    const chosen = choice.value;
    choice.replaceChildren(choice.options[0], ...names.map((name) => new Option(name, name)));
    choice.value = names.includes(chosen) ? chosen : "";
  }
}

/** Ask how far the work is, again and again until it is done. */
async function look() {
  clearTimeout(looking);
  let words;
  try {
    words = await (await fetch("/tray/progress")).json();
  } catch {
    document.getElementById("done").textContent = GONE;
    hear(GONE);
    looking = setTimeout(look, 4 * LOOK_MS);
    return;
  }
  told(words);
}

/** @param {{done: number, of: number, cards: string}} words */
function told(words) {
  if (words.cards === undefined) {
    say(words.fault);
    return;
  }
  show(words.cards);
  const under = words.done < words.of;
  const shown = document.getElementById("under");
  // It goes: who works by keys is taken to the photographs.
  if (!under && shown.contains(document.activeElement)) cards.querySelector("a")?.focus();
  shown.hidden = !under;
  document.getElementById("done").textContent = `${words.done} of ${words.of}`;
  Object.assign(document.getElementById("progress"), { max: Math.max(words.of, 1), value: words.done });
  clearTimeout(looking);
  if (under) looking = setTimeout(look, LOOK_MS);
  else if (awaited.size) hear(outcome());
}

/** @param {string} line */
function say(line) {
  const words = document.createElement("p");
  words.className = "alarm";
  words.textContent = line;
  coming.append(words);
}

/** Take away what was said of what was asked before. */
function clear() {
  coming.replaceChildren();
  blame(form, coming.id);
  hear("");
}

/** @param {File} file */
async function bring(file) {
  const row = document.createElement("p");
  row.className = "coming";
  const name = document.createElement("span");
  name.textContent = file.name;
  const bar = document.createElement("progress");
  bar.max = 1;
  bar.setAttribute("aria-label", `${file.name} on its way`);
  const stop = document.createElement("button");
  stop.type = "button";
  stop.textContent = "Cancel";
  row.append(name, bar, stop);
  coming.append(row);
  const query = new URLSearchParams({ ...asked(), name: file.name });
  const sent = sendFile(`/tray/drop?${query}`, file, (share) => (bar.value = share));
  stop.addEventListener("click", sent.stop);
  underway = sent.stop;
  try {
    show((await sent.done).card);
    look();
  } catch (fault) {
    say(fault.message);
    blame(form, coming.id, fault);
  } finally {
    underway = null;
    if (row.contains(document.activeElement)) document.getElementById("files").focus();
    row.remove();
  }
}

/** One after another: the first is seen soonest. @param {Iterable<File>} files */
async function bringAll(files) {
  clear();
  const round = wanted;
  for (const file of [...files]) {
    if (round === wanted) await bring(file);
  }
}

/** @param {() => Promise<any>} act */
async function tried(act) {
  clear();
  try {
    told(await act());
  } catch (fault) {
    say(fault.message);
    blame(form, coming.id, fault);
  }
}

for (const kind of ["dragover", "dragenter"]) {
  window.addEventListener(kind, (event) => {
    event.preventDefault();
    zone.classList.add("over");
  });
}
window.addEventListener("dragleave", (event) => event.relatedTarget || zone.classList.remove("over"));
window.addEventListener("drop", (event) => {
  event.preventDefault();
  zone.classList.remove("over");
  bringAll(event.dataTransfer.files);
});
document.getElementById("files").addEventListener("change", (event) => bringAll(event.target.files));
form.addEventListener("submit", (event) => event.preventDefault());
cards.addEventListener("click", (event) => {
  const { grade, cancel } = event.target.closest("button")?.dataset ?? {};
  if (grade) tried(() => send("/tray/grade", { ...asked(), names: [grade] }));
  if (cancel) tried(() => send("/tray/cancel", { names: [cancel] }));
});
document.getElementById("all").addEventListener("click", () => {
  const names = ungraded();
  if (!names.length) return;
  // The button goes: who works by keys is taken to how far it is.
  tried(() => send("/tray/grade", { ...asked(), names })).then(() => document.getElementById("under").focus());
});
document.getElementById("stop").addEventListener("click", () => {
  wanted += 1;
  underway?.();
  const names = [...cards.querySelectorAll("[data-cancel]")].map((one) => one.dataset.cancel);
  if (names.length) tried(() => send("/tray/cancel", { names }));
});
look();
form.addEventListener("input", hold);
fill();
