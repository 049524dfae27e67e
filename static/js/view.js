// What part of the photo is seen: enlarging around a point, moving, and from the screen's places to the photo's.

const MOST = 40;

export class View {
  constructor(svg, width, height) {
    Object.assign(this, { svg, width, height });
    this.fit();
  }

  /** Show the whole photo. */
  fit() {
    this.box = { x: 0, y: 0, w: this.width, h: this.height };
    this.apply();
  }

  get isWhole() { return this.box.w >= this.width; }

  /** Screen px per photo px. */
  get scale() { return this.svg.getScreenCTM()?.a || 1; }

  /** The place in the photo under a place on the screen; pixel centres at whole numbers. */
  place(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.svg.getScreenCTM().inverse());
    return [point.x - 0.5, point.y - 0.5];
  }

  get centre() { return [this.box.x + this.box.w / 2, this.box.y + this.box.h / 2]; }

  zoom(factor, [x, y] = this.centre) {
    const w = Math.min(this.width, Math.max(this.width / MOST, this.box.w / factor));
    const ratio = w / this.box.w;
    this.box = { x: x - (x - this.box.x) * ratio, y: y - (y - this.box.y) * ratio, w, h: this.box.h * ratio };
    this.apply();
  }

  pan(dx, dy) {
    this.box.x -= dx;
    this.box.y -= dy;
    this.apply();
  }

  /** Bring a place into sight. */
  reveal([x, y]) {
    const { box } = this;
    const edge = box.w / 12;
    if (x < box.x + edge || x > box.x + box.w - edge) box.x = x - box.w / 2;
    if (y < box.y + edge || y > box.y + box.h - edge) box.y = y - box.h / 2;
    this.apply();
  }

  apply() {
    const { box } = this;
    box.x = Math.min(Math.max(box.x, 0), this.width - box.w);
    box.y = Math.min(Math.max(box.y, 0), this.height - box.h);
    this.svg.setAttribute("viewBox", `${box.x} ${box.y} ${box.w} ${box.h}`);
  }
}
