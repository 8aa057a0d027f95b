/** A page with a form and its answer: what the form says is kept by the server, and what follows from it is shown. */

import { blame, hear } from "/static/heard.js";
import { Fault, GONE, leave, send } from "/static/send.js";

const form = document.getElementById("asked");
const answer = document.getElementById("answer");
const fault = document.getElementById("fault");
const changed = document.getElementById("changed");
const busy = document.getElementById("busy");
const bar = busy.querySelector("progress");
const far = document.getElementById("far");
const doing = document.getElementById("doing").textContent;
const main = form.querySelector("button.main");
const LOOK_MS = 400;
const STOPPED = "Cancelled: what is asked is kept, ask again when you like.";
let turn = ""; // name of the question that is being answered; empty while none is
let last = Promise.resolve(); // until the server is done with the one before
let looking = 0;

/** Whether a field says something: a box that tells what is unticked does while it is not ticked. */
function says(one) {
  return one.name && (one.type !== "checkbox" || one.checked !== "unticked" in one.dataset);
}

/** The form's fields, and those of its rows, and the version of it that was loaded. */
function words() {
  const said = (fields) => Object.fromEntries(fields.filter(says).map((one) => [one.name, one.value]));
  const fields = [...form.querySelectorAll("input, select, textarea")];
  const rows = [...form.querySelectorAll("[data-row]")];
  return {
    words: said(fields.filter((one) => !one.closest("[data-row]"))),
    rows: rows.map((row) => said([...row.querySelectorAll("input, select")])),
    seen: form.dataset.seen,
  };
}

/** Who works by keys stays at the form when what was pressed goes. @param {HTMLElement} part that goes */
function keepFocus(part) {
  if (part.contains(document.activeElement)) main.focus();
}

/** @param {string} line @param {[string, () => void][]} ways out of it, each a button */
function complain(line, ways = []) {
  keepFocus(fault);
  fault.replaceChildren();
  if (!line) return;
  const text = document.createElement("p");
  text.className = "alarm";
  text.textContent = line;
  fault.append(text);
  if (!ways.length) return;
  const buttons = document.createElement("div");
  buttons.className = "bar";
  for (const [label, act] of ways) {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = label;
    button.addEventListener("click", act);
    buttons.append(button);
  }
  fault.append(buttons);
}

/** Take the answer away. */
function blank() {
  answer.replaceChildren();
  changed.hidden = true;
}

/** Stop what is being answered, here and at the server. */
function stop() {
  if (turn) leave(`/turn/${turn}/cancel`);
  idle();
}

function idle() {
  turn = "";
  clearTimeout(looking);
  keepFocus(busy);
  busy.hidden = true;
  answer.removeAttribute("aria-busy");
}

/** Show how far it is, again and again. @param {string} mine */
async function look(mine) {
  try {
    const { doing, done, of } = await (await fetch(`/turn/${mine}`)).json();
    if (mine !== turn) return;
    if (of) Object.assign(bar, { max: of, value: done });
    far.textContent = of ? `${done} of ${of} ${doing}` : "";
  } catch {
    // The answer itself will say that the bench is gone.
  }
  if (mine === turn) looking = setTimeout(look, LOOK_MS, mine);
}

/** Show what comes of a question, unless another was asked meanwhile or nobody wants it any more. */
async function show(ask) {
  stop();
  const mine = `${Date.now().toString(36)}${Math.random().toString(36).slice(2)}`;
  turn = mine;
  changed.hidden = true;
  complain("");
  blame(form, fault.id);
  hear(doing);
  bar.removeAttribute("value");
  far.textContent = "";
  busy.hidden = false;
  answer.setAttribute("aria-busy", "true");
  looking = setTimeout(look, LOOK_MS, mine);
  const before = last;
  const asked = before.then(() => (mine === turn ? ask(`${answer.dataset.url}?turn=${mine}`) : null));
  last = asked.catch(() => {});
  try {
    const fresh = await asked;
    if (fresh?.seen) form.dataset.seen = fresh.seen;
    if (mine !== turn) return;
    answer.innerHTML = fresh.answer;
    complain(fresh.fault);
    blame(form, fault.id, fresh);
    hear(answer.querySelector(".lead, .note")?.textContent ?? "");
  } catch (error) {
    if (mine !== turn) return;
    blank(); // no answer stands beside a question that has none
    complain(error.message, error.newer ? waysOut(error.newer) : []);
    blame(form, fault.id, error);
    hear("");
  }
  idle();
}

/** What can be done about a form that was kept elsewhere meanwhile. @param {string} newer its version */
function waysOut(newer) {
  return [
    ["Load the newer", () => location.reload()],
    ["Write over it", () => {
      form.dataset.seen = newer;
      form.requestSubmit();
    }],
  ];
}

/** Ask for the answer to what was kept before. @param {string} url */
async function load(url) {
  let got;
  try {
    got = await fetch(url);
  } catch {
    throw new Fault(GONE, 0);
  }
  const fresh = await got.json();
  if (!got.ok) throw new Fault(fresh.fault, got.status, fresh);
  return fresh;
}

form.addEventListener("input", () => (changed.hidden = !turn && !answer.hasChildNodes()));
form.addEventListener("submit", (event) => {
  event.preventDefault();
  show((url) => send(url, words()));
});
document.getElementById("stop").addEventListener("click", () => {
  stop();
  blank();
  complain(STOPPED);
  hear("");
});
window.addEventListener("pagehide", stop);
document.getElementById("more")?.addEventListener("click", () => {
  const rows = form.querySelectorAll("[data-row]");
  const fresh = rows[rows.length - 1].cloneNode(true);
  for (const field of fresh.querySelectorAll("input, select")) field.value = "";
  fresh.querySelector("legend").textContent = `Reading ${rows.length + 1}`;
  rows[rows.length - 1].after(fresh);
  fresh.querySelector("input").focus();
});
show(load);
