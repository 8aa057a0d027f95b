/** A casting's page: looking at it, filtering, blinking, and correcting with undo and redo. */

import { blame } from "/static/heard.js";
import { Fault, send } from "/static/send.js";
import { View } from "/static/viewer.js";

const place = document.getElementById("view");
const url = place.dataset.url;
const view = new View(place);
const says = document.getElementById("says");
const fault = document.getElementById("fault");
const one = (selector) => document.querySelector(selector);
const all = (selector) => [...document.querySelectorAll(selector)];
const BLINK_MS = 800;
const CORNERS = { fields: ["corners"] }; // what a fault of written points is about
const ENOUGH = { add: 2, scale: 2 }; // points after which a form is filled
let record = null;
let chosen = null;
let stood = 0; // place among the shown marks of the one that was chosen last
let tool = "look";
let points = [];
let blinking = 0;
let sending = false;

/** Show a layer and the marks as the controls say. */
function showLayers() {
  view.layer(one('input[name="layer"]:checked').value);
  view.marked(one("#marks")?.checked ?? false);
}

/** Draw what the filters let through. */
function redraw() {
  const off = hidden();
  view.draw(record, (find) => !off.has(classOf(find)));
  view.choose(chosen);
  stand();
}

/** Remember where the chosen mark stands; where it goes, the next one takes its place. */
function stand() {
  const now = view.shown.findIndex((find) => find.name === chosen);
  if (now >= 0) stood = now;
}

/** @param {object} find */
function classOf(find) {
  return find.kind === "void" ? `size-${find.size}` : `kind-${find.kind}`;
}

/** Take over what the server says the casting is now. @param {object} fresh */
function take(fresh) {
  record = fresh;
  one("#told").innerHTML = fresh.told;
  offer();
  legend(record.legend);
  choose(record.finds.some((find) => find.name === chosen) ? chosen : null);
  redraw();
}

/** Undo and redo can be pressed where there is something to take. */
function offer() {
  one("#undo").disabled = record.undo === null;
  one("#redo").disabled = record.redo === null;
}

/** Show the classes and kinds there are now, those taken off still off. @param {string} html */
function legend(html) {
  const off = hidden();
  one("#legend").innerHTML = html;
  for (const box of all("#legend input")) {
    box.checked = !off.has(box.value);
    box.addEventListener("change", redraw);
  }
}

/** The classes and kinds that are taken off. */
function hidden() {
  return new Set(all("#legend input:not(:checked)").map((box) => box.value));
}

/** Ask what was found. */
async function load() {
  try {
    const answer = await fetch(`${url}/finds`);
    const fresh = await answer.json();
    if (!answer.ok) throw new Fault(fresh.fault, answer.status);
    take(fresh);
  } catch (error) {
    complain(error);
  }
}

/** @param {Error | null} error */
function complain(error) {
  fault.replaceChildren();
  blame(document.getElementById(tool), fault.id, error ?? {});
  if (!error) return;
  const line = document.createElement("p");
  line.className = "alarm";
  line.textContent = error.message;
  fault.append(line);
}

/** Send a change; what another page changed meanwhile is shown first. @param {object} words */
async function change(words) {
  if (sending) return; // until it is known what undo would take
  sending = true;
  complain(null);
  const pressed = document.activeElement;
  try {
    take(await send(`${url}/change`, { ...words, seen: record.steps }));
    if (words.what === "add") choose(`a${record.steps}`);
    start(tool);
    tell();
  } catch (error) {
    if (error.status === 409) await load();
    complain(error);
  }
  sending = false;
  // Who works by keys stays where the next step is near.
  if (pressed.disabled) (pressed.closest("#look") ? one("#next") : one("#undo:enabled, #redo:enabled"))?.focus();
}

/** Say what the chosen mark and the casting are now. */
function tell() {
  const find = record.finds.find((each) => each.name === chosen);
  const lead = one("#told .lead").textContent.trim();
  says.textContent = find ? `${find.says}; now ${lead}` : `Now ${lead}`;
}

/** @param {string | null} name */
function choose(name) {
  chosen = name;
  stand();
  const find = record.finds.find((each) => each.name === name);
  view.choose(name);
  for (const button of all("#look button")) button.disabled = !find;
  one("#chosen").textContent = find ? find.says : "Click a mark to change it.";
  if (!find) return;
  says.textContent = find.says;
  one("#look").elements.diameter.value = Number(find.d.toPrecision(4));
  one("#look").elements.kind.value = find.kind;
}

/** Take a tool up, its form empty. @param {string} name */
function start(name) {
  tool = name;
  points = [];
  view.pointed(points);
  place.classList.toggle("pointing", tool !== "look");
  for (const button of all("[data-tool]")) button.setAttribute("aria-pressed", String(button.dataset.tool === tool));
  for (const form of all(".tool")) {
    form.hidden = form.id !== tool;
    if (form.id !== "look") form.reset();
  }
}

/** A point was set with a tool. @param {{x: number, y: number}} at */
function point(at) {
  if (points.length >= (ENOUGH[tool] ?? Infinity)) points = [];
  points.push(at);
  view.pointed(points);
  says.textContent = `Point ${points.length} at x ${at.x.toFixed(1)}, y ${at.y.toFixed(1)}`;
  const form = document.getElementById(tool).elements;
  if (tool !== "add") {
    form.corners.value = points.map(({ x, y }) => `${x.toFixed(1)},${y.toFixed(1)}`).join(" ");
  } else if (points.length === ENOUGH.add) {
    const [from, to] = points;
    form.x.value = ((from.x + to.x) / 2).toFixed(2);
    form.y.value = ((from.y + to.y) / 2).toFixed(2);
    form.diameter.value = Math.hypot(to.x - from.x, to.y - from.y).toFixed(2);
  }
}

/** Something was pointed at with a hand, or with the middle of the view. @param {L.LatLng} at */
function pointed(at) {
  if (tool !== "look") {
    point(view.from(at));
    return;
  }
  const find = view.under(at);
  choose(find?.name ?? null);
  if (!find) says.textContent = `No mark at x ${view.from(at).x.toFixed(1)}, y ${view.from(at).y.toFixed(1)}`;
}

/** @param {string} text @returns {number[][]} */
function corners(text) {
  const found = text.trim().split(/\s+/).map((pair) => pair.split(",").map(Number));
  if (found.some((pair) => pair.length !== 2 || !pair.every(Number.isFinite))) {
    throw new Fault(`${text} are no points: write x,y for each, such as 120,80 300,80 300,240`, 0, CORNERS);
  }
  return found;
}

/** Corners were written: show them, and go on from them with the next point. @param {string} text */
function written(text) {
  try {
    points = corners(text).map(([x, y]) => ({ x, y }));
  } catch {
    return; // not written to its end yet
  }
  view.pointed(points);
}

/** What each form sends. */
const WORDS = {
  look: (form, button) => ({
    resize: { what: "resize", find: chosen, diameter_px: Number(form.diameter.value) },
    name: { what: "name", find: chosen, kind: form.kind.value },
    remove: { what: "remove", find: chosen },
  })[button.value],
  add: (form) => ({
    what: "add", x_px: Number(form.x.value), y_px: Number(form.y.value), diameter_px: Number(form.diameter.value),
    kind: form.kind.value,
  }),
  area: (form) => ({ what: "leave out", corners: corners(form.corners.value) }),
  zone: (form) => ({ what: "zone", name: form.name.value, corners: corners(form.corners.value) }),
  scale: (form) => {
    const [from, to, ...more] = corners(form.corners.value);
    if (!to || more.length) throw new Fault("a scale takes two points: write x,y for each", 0, CORNERS);
    const [x_px, y_px, other_x_px, other_y_px] = [...from, ...to];
    return { what: "scale", span: { x_px, y_px, other_x_px, other_y_px, long_mm: Number(form.distance.value) } };
  },
};

/** Go to the next mark by size. @param {number} step */
function go(step) {
  if (!view.shown.length) return;
  const many = view.shown.length;
  const isShown = view.shown.some((find) => find.name === chosen);
  const next = isShown || step < 0 ? stood + step : stood;
  choose(view.shown[(next + many) % many].name);
}

/** Blink: the photograph, its transmittance, the marks on it. */
function blink() {
  const button = one("#blink");
  const on = button.getAttribute("aria-pressed") !== "true";
  button.setAttribute("aria-pressed", String(on));
  clearInterval(blinking);
  if (!on) {
    showLayers();
    return;
  }
  let turn = 0;
  const step = () => {
    view.layer(turn === 1 ? "transmittance" : "photograph");
    view.marked(turn === 2);
    turn = (turn + 1) % (one("#marks") ? 3 : 2);
  };
  step();
  blinking = setInterval(step, BLINK_MS);
}

for (const input of all('input[name="layer"], #marks')) input.addEventListener("change", showLayers);
one("#blink").addEventListener("click", blink);
one("#fit").addEventListener("click", () => view.fit());
showLayers();

if (one("#told")) {
  one("#before").addEventListener("click", () => go(-1));
  one("#next").addEventListener("click", () => go(1));
  one("#undo").addEventListener("click", () => change({ what: "undo", of: record.undo }));
  one("#redo").addEventListener("click", () => change({ what: "redo", of: record.redo }));
  for (const button of all("[data-tool]")) button.addEventListener("click", () => start(button.dataset.tool));
  for (const form of all(".tool")) {
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      try {
        change(WORDS[form.id](form.elements, event.submitter));
      } catch (error) {
        complain(error);
      }
    });
    form.addEventListener("reset", () => {
      points = [];
      view.pointed(points);
    });
  }
  for (const field of all('.tool [name="corners"]')) field.addEventListener("input", () => written(field.value));
  view.map.on("mousemove", (event) => {
    const find = view.under(event.latlng);
    if (find) says.textContent = find.says;
  });
  view.map.on("click", (event) => pointed(event.latlng));
  place.addEventListener("keydown", (event) => {
    if (event.target !== place || event.key !== "Enter") return;
    event.preventDefault();
    pointed(view.map.getCenter());
  });
  for (const part of [place, one("#through")]) {
    part.addEventListener("keydown", (event) => {
      if (event.key === "Delete" && chosen) change({ what: "remove", find: chosen });
    });
  }
  load();
}
