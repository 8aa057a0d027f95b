/** The marks over a photograph: circles on one canvas, thousands of them within a frame. */

/* global L */

export const AROUND = 0.1; // of the view that is drawn beyond each side of it
const LEAST_PX = 4; // radius of a mark on the screen
const STAMPED_PX = 32; // radius up to which a mark is drawn once and then copied: a third of the time, or less
const AROUND_PX = 3.5; // from a circle to the second one around it
const STEP_PX = 1; // between the radii of such marks

/** @typedef {{color: string, weight: number, dash: number[], double?: boolean}} Look `double`: with a second circle around it */

/** Draw a circle. @param {CanvasRenderingContext2D} pen @param {Look} look @param {number} fine px of the canvas to one of the screen */
function stroke(pen, look, fine, x, y, radius) {
  pen.strokeStyle = look.color;
  pen.lineWidth = fine * look.weight;
  pen.setLineDash(look.dash.map((long) => fine * long));
  for (const each of look.double ? [radius, radius + fine * AROUND_PX] : [radius]) {
    pen.beginPath();
    pen.arc(x, y, each, 0, 2 * Math.PI);
    pen.stroke();
  }
}

export const Marks = L.Renderer.extend({
  initialize(place) {
    L.Renderer.prototype.initialize.call(this, { padding: AROUND });
    this.place = place; // of px of the photograph on the map
    this.groups = [];
    this.stamps = new Map();
    this.due = 0;
  },

  /** Take over what to draw. @param {{look: Look, finds: object[]}[]} groups */
  show(groups) {
    this.groups = groups;
    if (this._map) this._update();
  },

  _initContainer() {
    this._container = document.createElement("canvas");
  },

  _destroyContainer() {
    this._container.remove();
    this._container = null;
  },

  _updatePaths() {},

  /** Draw anew in the next frame; until then the marks that are drawn go along with the map. */
  _update() {
    if (!this._bounds) {
      this._redraw();
      return;
    }
    this.due ||= requestAnimationFrame(() => {
      this.due = 0;
      if (this._map) this._redraw();
    });
  },

  _reset() {
    this._redraw();
    this._updateTransform(this._center, this._zoom);
  },

  _redraw() {
    if (this._map._animatingZoom && this._bounds) return;
    L.Renderer.prototype._update.call(this);
    const { min } = this._bounds;
    const size = this._bounds.getSize();
    const fine = window.devicePixelRatio || 1;
    L.DomUtil.setPosition(this._container, min);
    Object.assign(this._container, { width: fine * size.x, height: fine * size.y });
    Object.assign(this._container.style, { width: `${size.x}px`, height: `${size.y}px` });
    const origin = this._map.latLngToLayerPoint(this.place(0, 0)).subtract(min);
    const scale = this._map.latLngToLayerPoint(this.place(1000, 0)).subtract(min).subtract(origin).x / 1000;
    this._draw(origin.multiplyBy(fine), scale * fine, fine);
  },

  /** Draw what lies on the canvas. @param {L.Point} origin @param {number} scale px of the canvas to one of the photograph */
  _draw(origin, scale, fine) {
    const { width, height } = this._container;
    const pen = this._container.getContext("2d");
    for (const { look, finds } of this.groups) {
      for (const find of finds) {
        const x = origin.x + scale * find.x;
        const y = origin.y + scale * find.y;
        const radius = Math.max((scale * find.d) / 2 + fine * look.weight, fine * LEAST_PX);
        if (x < -radius || y < -radius || x > width + radius || y > height + radius) continue;
        if (radius > fine * STAMPED_PX) {
          stroke(pen, look, fine, x, y, radius);
        } else {
          const stamp = this._stamp(look, Math.round(radius / STEP_PX) * STEP_PX, fine);
          pen.drawImage(stamp, Math.round(x - stamp.width / 2), Math.round(y - stamp.height / 2));
        }
      }
    }
  },

  /** A mark to copy, drawn when it is first needed. */
  _stamp(look, radius, fine) {
    const key = `${look.color} ${look.weight} ${look.dash} ${radius} ${fine}`;
    let stamp = this.stamps.get(key);
    if (!stamp) {
      const half = Math.ceil(radius + fine * (look.weight + (look.double ? AROUND_PX : 0)));
      const sheet = new OffscreenCanvas(2 * half, 2 * half);
      stroke(sheet.getContext("2d"), look, fine, half, half, radius);
      stamp = sheet.transferToImageBitmap(); // copied faster than a canvas
      this.stamps.set(key, stamp);
    }
    return stamp;
  },
});
