/** A page with a form and its answer: what the form says is kept by the server, and what follows from it is shown. */

import { Fault, send } from "/static/send.js";

const form = document.getElementById("asked");
const answer = document.getElementById("answer");
const fault = document.getElementById("fault");
const busy = document.getElementById("busy");
let turn = 0; // of the question that was asked last

/** The form's fields, and those of its rows. */
function words() {
  const said = (fields) => Object.fromEntries(
    fields.filter((one) => one.name && (one.type !== "checkbox" || one.checked)).map((one) => [one.name, one.value]),
  );
  const fields = [...form.querySelectorAll("input, select, textarea")];
  const rows = [...form.querySelectorAll("[data-row]")];
  return {
    words: said(fields.filter((one) => !one.closest("[data-row]"))),
    rows: rows.map((row) => said([...row.querySelectorAll("input, select")])),
  };
}

/** @param {string} line */
function complain(line) {
  fault.replaceChildren();
  if (!line) return;
  const text = document.createElement("p");
  text.className = "alarm";
  text.textContent = line;
  fault.append(text);
}

/** Show what comes of a question, unless another was asked meanwhile or nobody wants it any more. */
async function show(ask) {
  turn += 1;
  const mine = turn;
  complain("");
  busy.hidden = false;
  answer.setAttribute("aria-busy", "true");
  try {
    const fresh = await ask();
    if (mine !== turn) return;
    answer.innerHTML = fresh.answer;
    if (fresh.fault) complain(fresh.fault);
  } catch (error) {
    if (mine !== turn) return;
    answer.replaceChildren(); // no answer stands beside a question that has none
    complain(error.message);
  }
  busy.hidden = true;
  answer.removeAttribute("aria-busy");
}

/** Ask for the answer to what was kept before. */
async function load() {
  const got = await fetch(answer.dataset.url);
  const fresh = await got.json();
  if (!got.ok) throw new Fault(fresh.fault, got.status);
  return fresh;
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  show(() => send(answer.dataset.url, words()));
});
document.getElementById("stop").addEventListener("click", () => {
  turn += 1;
  busy.hidden = true;
  answer.removeAttribute("aria-busy");
});
document.getElementById("more")?.addEventListener("click", () => {
  const rows = form.querySelectorAll("[data-row]");
  const fresh = rows[rows.length - 1].cloneNode(true);
  for (const field of fresh.querySelectorAll("input, select")) field.value = "";
  fresh.querySelector("legend").textContent = `Reading ${rows.length + 1}`;
  rows[rows.length - 1].after(fresh);
  fresh.querySelector("input").focus();
});
show(load);
