/** Two castings at the same scale: moving or zooming one takes the other along. */

/* global L */

import { View } from "/static/viewer.js";

const LINKED = { zoomSnap: 0, zoomAnimation: false, fadeAnimation: false, inertia: false, maxBounds: null, minZoom: -6 };
const sides = ["left", "right"].map((id) => {
  const place = document.getElementById(id);
  const view = new View(place, LINKED);
  const { width, height } = view.picture;
  return { place, view, unit: Number(place.dataset.unit), middle: [width / 2, height / 2] };
});
let leading = null; // the one that the other follows

/** Zoom and place of a side, counted from its casting's middle in the unit of both. */
function seen({ view, unit, middle }) {
  const { x, y } = view.from(view.map.getCenter());
  return { scale: view.scale() / unit, x: (x - middle[0]) * unit, y: (y - middle[1]) * unit };
}

/** Show on a side what the other shows. */
function follow({ view, unit, middle }, { scale, x, y }) {
  const zoom = view.most + Math.log2(scale * unit);
  view.map.setView(view.at(middle[0] + x / unit, middle[1] + y / unit), zoom, { animate: false });
}

/** Show all of both: the one that needs the smaller scale leads. */
function fit() {
  for (const side of sides) side.view.fit();
  const [widest] = [...sides].sort((one, other) => seen(one).scale - seen(other).scale);
  const { scale } = seen(widest);
  for (const side of sides) follow(side, { scale, x: 0, y: 0 });
}

/** The middle of the casting, or of the photograph where no border was found. */
function middleOf(record) {
  const points = record.borders.flat();
  if (!points.length) return null;
  const span = (axis) => points.map((point) => point[axis]);
  return [0, 1].map((axis) => (Math.min(...span(axis)) + Math.max(...span(axis))) / 2);
}

/** Take over what was found on a side. */
async function load(side) {
  if (!side.place.dataset.graded) return;
  const answer = await fetch(`${side.place.dataset.url}/finds`);
  const record = await answer.json();
  if (!answer.ok) throw new Error(record.fault);
  side.middle = middleOf(record) ?? side.middle;
  side.view.draw(record, () => true);
  side.view.choose(null);
}

function showLayers() {
  for (const { view } of sides) {
    view.layer(document.querySelector('input[name="layer"]:checked').value);
    view.marked(document.getElementById("marks").checked);
  }
}

for (const [at, side] of sides.entries()) {
  side.view.map.on("move", () => {
    if (leading && leading !== side) return;
    leading = side;
    follow(sides[1 - at], seen(side));
    leading = null;
  });
}
for (const input of document.querySelectorAll('input[name="layer"], #marks')) input.addEventListener("change", showLayers);
document.getElementById("fit").addEventListener("click", fit);
showLayers();
fit();
Promise.all(sides.map(load)).then(fit, (error) => {
  const line = document.createElement("p");
  line.className = "alarm";
  line.textContent = error.message;
  document.getElementById("fault").replaceChildren(line);
});
