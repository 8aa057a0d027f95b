/** A photograph in tiles with marks over it: moved, zoomed and pointed at. Places are px of the photograph. */

import { AROUND, Marks } from "/static/marks.js";

/* global L */

const TILE_PX = 256;
const LOOKS = [
  { color: "#0072b2", weight: 1.5, dash: [] },
  { color: "#008460", weight: 2.5, dash: [] },
  { color: "#d55e00", weight: 1.5, dash: [], double: true },
  { color: "#aa3377", weight: 3, dash: [] },
];
const UNSURE = { color: "#965a00", weight: 1.5, dash: [6, 4] };
const ASIDE = { color: "#965a00", weight: 1.5, dash: [1.5, 2.5] };
const LEFT_OUT = { color: "#5c5c57", weight: 1, dash: [2, 4] };
const CHOSEN = { color: "#000000", weight: 5, dash: [] };
const REACH_PX = 8; // from a mark at which the pointer means it
const STEP_PX = 20; // of the screen that an arrow key moves it
const STILL = matchMedia("(prefers-reduced-motion: reduce)").matches;
const CLOSER = 4; // zooms beyond one px of the photograph to one of the screen

/** Tiles of one layer; those at the border are as large as what is left. */
const Tiles = L.GridLayer.extend({
  createTile(coords, done) {
    const { url, key, sides } = this.options;
    const [wide, high] = sides[coords.z] ?? [0, 0];
    const tile = document.createElement("div");
    const image = document.createElement("img");
    image.alt = "";
    image.style.width = `${(100 * Math.min(TILE_PX, wide - coords.x * TILE_PX)) / TILE_PX}%`;
    image.style.height = `${(100 * Math.min(TILE_PX, high - coords.y * TILE_PX)) / TILE_PX}%`;
    image.style.display = "block";
    image.onload = () => done(null, tile);
    image.onerror = () => done(new Error("no tile"), tile);
    image.src = `${url}/${key}/${coords.z}/${coords.x}/${coords.y}`;
    tile.append(image);
    return tile;
  },
});

/** Counted voids before the rest, and the larger first. */
function voidsFirst(one, other) {
  return (other.state === "counted") - (one.state === "counted") || other.d - one.d;
}

export class View {
  /** @param {HTMLElement} place its data say where the tiles are @param {object} [options] of the map */
  constructor(place, options = {}) {
    this.picture = JSON.parse(place.dataset.picture);
    const { width, height, sides, key, layers } = this.picture;
    this.most = sides.length - 1;
    const share = 1 / 2 ** this.most;
    const crs = L.extend({}, L.CRS.Simple, { transformation: new L.Transformation(share, 0, share, 0) });
    this.whole = L.latLngBounds([0, 0], [height, width]);
    this.map = L.map(place, {
      crs, attributionControl: false, maxZoom: this.most + CLOSER, minZoom: -1, zoomSnap: 0.25, zoomDelta: 1,
      maxBounds: this.whole.pad(0.5), preferCanvas: true, boxZoom: false, doubleClickZoom: false,
      keyboardPanDelta: STEP_PX, zoomAnimation: !STILL, fadeAnimation: !STILL, inertia: !STILL, ...options,
    });
    // On many keyboards a plus is shifted, and Leaflet takes a shifted key for three steps.
    place.addEventListener("keydown", (event) => {
      if (event.key !== "+") return;
      event.stopPropagation();
      this.map.zoomIn();
    });
    this.marks = new Marks((x, y) => this.at(x, y));
    this.lines = L.layerGroup();
    this.points = L.layerGroup().addTo(this.map);
    this.pen = L.canvas({ padding: AROUND });
    this.layers = {};
    for (const [name, part] of Object.entries(layers)) {
      this.layers[name] = new Tiles({
        url: `${place.dataset.url}/tile/${part}`, key, sides, bounds: this.whole, minNativeZoom: 0,
        maxNativeZoom: this.most, minZoom: this.map.getMinZoom(), maxZoom: this.most + CLOSER, keepBuffer: 2,
      });
    }
    const [wide, high] = sides[0];
    const all = L.latLngBounds([0, 0], [high * 2 ** this.most, wide * 2 ** this.most]);
    // Below the tiles: seen while they come, and through the hairlines between them at a broken zoom.
    this.ground = L.imageOverlay("", all, { pane: "tilePane", zIndex: 0, className: "ground", alt: "" });
    this.grounds = Object.fromEntries(
      Object.entries(layers).map(([name, part]) => [name, `${place.dataset.url}/tile/${part}/${key}/0/0/0`]),
    );
    this.finds = [];
    this.shown = [];
    this.fit();
    this.layer("photograph");
  }

  /** Show all of the photograph. */
  fit() {
    this.map.fitBounds(this.whole, { animate: false });
  }

  /** Show a layer above the other, which stays loaded: blinking is at once. @param {string} name */
  layer(name) {
    this.ground.setUrl(this.grounds[name]);
    if (!this.map.hasLayer(this.ground)) this.ground.addTo(this.map);
    if (!this.map.hasLayer(this.layers[name])) this.layers[name].addTo(this.map);
    for (const [other, tiles] of Object.entries(this.layers)) {
      if (this.map.hasLayer(tiles)) tiles.setOpacity(other === name ? 1 : 0);
    }
  }

  /** Show marks or hide them. @param {boolean} on */
  marked(on) {
    for (const group of [this.lines, this.marks]) {
      if (on) group.addTo(this.map);
      else group.remove();
    }
  }

  /**
   * Draw what was found.
   * @param {object} record finds, borders, areas and zones
   * @param {(find: object) => boolean} wanted
   */
  draw(record, wanted) {
    this.finds = record.finds;
    this.shown = record.finds.filter(wanted).sort(voidsFirst);
    const alike = new Map();
    for (const find of this.shown) {
      const look = this.look(find);
      if (!alike.has(look)) alike.set(look, []);
      alike.get(look).push(find);
    }
    this.groups = [...alike].map(([look, finds]) => ({ look, finds }));
    this.lines.clearLayers();
    const line = { fill: false, interactive: false, weight: 1, color: "#3c3c3c", dashArray: "4 3", renderer: this.pen };
    for (const border of record.borders) this.lines.addLayer(L.polygon(this.path(border), line));
    for (const area of record.left_out) {
      this.lines.addLayer(L.polygon(this.path(area), { ...line, weight: 2, fill: true, fillOpacity: 0.25 }));
    }
    for (const zone of record.zones) {
      this.lines.addLayer(L.polygon(this.path(zone.corners), { ...line, weight: 2, color: "#0b5c8f", dashArray: null }));
    }
    if (record.span) this.lines.addLayer(L.polyline(this.path(record.span), { ...line, weight: 2, dashArray: "10 6" }));
  }

  /** Make one find stand out, and bring it into view where it is not. @param {string | null} name */
  choose(name) {
    const find = this.finds.find((one) => one.name === name);
    this.marks.show([...(this.groups ?? []), ...(find ? [{ look: CHOSEN, finds: [find] }] : [])]);
    if (!find) return;
    if (!this.map.getBounds().contains(this.at(find.x, find.y))) this.map.panTo(this.at(find.x, find.y), { animate: !STILL });
  }

  /** The find that the pointer means, the smallest where several lie there. @param {L.LatLng} at */
  under(at) {
    const reach = REACH_PX / this.scale();
    const { x, y } = this.from(at);
    let best = null;
    for (const find of this.shown) {
      const off = Math.hypot(find.x - x, find.y - y);
      if (off <= Math.max(find.d / 2, reach) && (!best || find.d < best.d)) best = find;
    }
    return best;
  }

  /** Show the points that were set so far. @param {{x: number, y: number}[]} points */
  pointed(points) {
    this.points.clearLayers();
    const path = points.map(({ x, y }) => this.at(x, y));
    const look = { color: "#0b5c8f", weight: 2, interactive: false };
    if (path.length > 1) this.points.addLayer(L.polyline(path, look));
    for (const place of path) this.points.addLayer(L.circleMarker(place, { ...look, radius: 6, fillOpacity: 0.4 }));
  }

  /** Pixels of the screen to one of the photograph. */
  scale() {
    return 2 ** (this.map.getZoom() - this.most);
  }

  at(x, y) {
    return L.latLng(y + 0.5, x + 0.5);
  }

  from(at) {
    return { x: at.lng - 0.5, y: at.lat - 0.5 };
  }

  path(points) {
    return points.map(([x, y]) => this.at(x, y));
  }

  look(find) {
    if (find.state === "left out") return LEFT_OUT;
    if (find.state === "counted") return LOOKS[find.size];
    return find.kind === "unsure" ? UNSURE : ASIDE;
  }
}
