// <mark-board>: marks of three kinds set on the photo by tap or by key; the form's text stays the truth.

import { attachPointer } from "./editor-pointer.js";
import { History } from "./history.js";
import { View } from "./view.js";

const SVG = "http://www.w3.org/2000/svg";
const ARROWS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const NEAR = 16, STEP = 4, FAR = 40;  // screen px: a tap this near a mark takes it away; steps of the cross
const LETTER = 15;

const draw = (name, attributes, words = "") => {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.textContent = words;
  return element;
};

class MarkBoard extends HTMLElement {
  connectedCallback() {
    this.form = this.closest("form");
    this.text = this.form.elements.marks;
    this.svg = this.querySelector("svg.canvas");
    this.group = this.querySelector("[data-marks]");
    this.size = [Number(this.dataset.width), Number(this.dataset.height)];
    this.radius = Number(this.dataset.radius);
    this.view = new View(this.svg, ...this.size);
    this.cross = null;
    this.history = new History(this.text.value);
    this.svg.tabIndex = 0;
    this.classList.add("live");
    this.querySelector("[data-tools]").hidden = false;
    attachPointer(this);
    this.svg.addEventListener("keydown", (event) => { if (this.key(event)) event.preventDefault(); });
    this.svg.addEventListener("blur", () => { this.cross = null; this.draw(); });
    this.text.addEventListener("input", () => { this.history.keep(this.text.value); this.draw(); });
    const actions = { undo: () => this.go(-1), redo: () => this.go(1), clear: () => this.write([], "All marks removed."), in: () => this.zoom(1.6), out: () => this.zoom(1 / 1.6), fit: () => { this.view.fit(); this.draw(); } };
    for (const [name, action] of Object.entries(actions)) this.button(name).addEventListener("click", action);
    this.showFace();
    new ResizeObserver(() => this.draw()).observe(this.svg);
    this.draw();
  }

  /** Begin with the face as large as it goes. */
  showFace() {
    const { left, top, right, bottom } = this.dataset, [x, y] = [(Number(left) + Number(right)) / 2, (Number(top) + Number(bottom)) / 2];
    const factor = Math.min(this.size[0] / (right - left), this.size[1] / (bottom - top));
    if (!(factor > 1)) return;
    this.view.zoom(factor);
    const [atX, atY] = this.view.centre;
    this.view.pan(atX - x, atY - y);
  }

  button(name) { return this.querySelector(`[data-do=${name}]`); }

  get kinds() { return [...this.querySelectorAll("[name=mark-kind]")]; }

  get kind() { return this.querySelector("[name=mark-kind]:checked"); }

  say(words) { this.querySelector("[data-state]").textContent = words; }

  /** The lines of the text; one that can't be read yet is kept as it is and not drawn. */
  get lines() { return this.text.value.split("\n").filter((line) => line.trim()); }

  read(line) {
    const parts = line.replace(/[,;]/g, " ").trim().split(/\s+/);
    const numbers = parts.slice(0, 3).map(Number).filter(Number.isFinite);
    const words = parts.slice(numbers.length).join(" ").toLowerCase();
    const kind = this.kinds.find(({ value, dataset }) => [value, dataset.key, dataset.words].includes(words));
    return kind && numbers.length > 1 ? { x: numbers[0], y: numbers[1], radius: numbers[2] ?? this.radius, kind } : null;
  }

  write(lines, words) {
    this.text.value = lines.join("\n");
    this.history.keep(this.text.value);
    this.say(words);
    this.draw();
  }

  // --- what the pointer's file asks of whoever it serves: every tap is a place, nothing is dragged

  get draws() { return true; }

  get tool() { return "mark"; }

  addToDraft(place) {
    const near = this.nearest(place);
    if (near && near.apart < NEAR / this.view.scale) this.remove(near);
    else this.set(place, this.kind);
  }

  zoom(factor, at) {
    this.view.zoom(factor, at);
    this.draw();
  }

  // --- marks

  set([x, y], kind) {
    if (x < -0.5 || y < -0.5 || x > this.size[0] - 0.5 || y > this.size[1] - 0.5) return;
    const lines = [...this.lines, `${x.toFixed(1)}, ${y.toFixed(1)}, ${kind.value}`];
    this.write(lines, `Mark ${lines.length}: ${kind.dataset.words}. Tap it again to take it away.`);
  }

  nearest([x, y]) {
    return this.lines
      .map((line, index) => ({ index, mark: this.read(line) }))
      .filter(({ mark }) => mark)
      .map(({ index, mark }) => ({ index, apart: Math.hypot(mark.x - x, mark.y - y) }))
      .sort((one, other) => one.apart - other.apart)[0];
  }

  remove({ index }) { this.write(this.lines.toSpliced(index, 1), `Mark ${index + 1} removed.`); }

  go(by) {
    const text = this.history.go(by);
    if (text === null) return;
    this.text.value = text;
    this.say(by < 0 ? "Undone." : "Done again.");
    this.draw();
  }

  // --- keys: a cross is moved over the photo

  key(event) {
    if (event.altKey || event.metaKey) return false;
    if (event.ctrlKey) {
      const by = { z: event.shiftKey ? 1 : -1, Z: 1, y: 1 }[event.key];
      if (by) this.go(by);
      return Boolean(by);
    }
    const arrow = ARROWS[event.key], kind = this.kinds.find(({ dataset }) => dataset.key === event.key.toLowerCase());
    if (arrow) return this.move(arrow, event.shiftKey ? FAR : STEP);
    const action = {
      " ": () => this.set(this.cross, this.kind), Enter: () => this.set(this.cross, this.kind),
      Delete: () => this.removeNearest(), Backspace: () => this.removeNearest(),
      "+": () => this.zoom(1.6, this.cross), "=": () => this.zoom(1.6, this.cross), "-": () => this.zoom(1 / 1.6, this.cross), 0: () => { this.view.fit(); this.draw(); },
    }[event.key] ?? (kind && (() => { kind.checked = true; this.set(this.cross, kind); }));
    if (!action) return false;
    this.cross ??= [...this.view.centre];
    action();
    return true;
  }

  move([dx, dy], by) {
    const [x, y] = this.cross ?? this.view.centre, step = by / this.view.scale;
    this.cross = [Math.min(Math.max(x + dx * step, 0), this.size[0] - 1), Math.min(Math.max(y + dy * step, 0), this.size[1] - 1)];
    this.view.reveal(this.cross);
    this.say(`x ${this.cross[0].toFixed(0)}, y ${this.cross[1].toFixed(0)}`);
    this.draw();
    return true;
  }

  removeNearest() {
    const near = this.nearest(this.cross);
    if (near) this.remove(near);
  }

  draw() {
    const shown = this.lines.map((line) => this.read(line)), px = 1 / this.view.scale;
    this.group.replaceChildren(...shown.flatMap((mark, index) => (mark ? this.ring(mark, index, px) : [])), ...this.crossLines(px));
    this.svg.classList.toggle("whole", this.view.isWhole);
    this.button("undo").disabled = !this.history.has(-1);
    this.button("redo").disabled = !this.history.has(1);
    this.button("clear").disabled = !this.lines.length;
  }

  ring({ x, y, radius, kind }, index, px) {
    const place = { cx: x + 0.5, cy: y + 0.5, r: Math.max(radius, 4 * px) }, letter = LETTER * px;
    const number = draw("text", { class: "mark-number", x: place.cx + place.r + 4 * px, y: place.cy + letter / 3, "font-size": letter, "stroke-width": letter / 5 }, String(index + 1));
    return [draw("circle", { class: "mark casing", ...place }), draw("circle", { class: `mark ${kind.value}`, ...place }), number];
  }

  crossLines(px) {
    if (!this.cross) return [];
    const [x, y] = this.cross.map((value) => value + 0.5), gap = 5 * px, reach = 22 * px;
    const d = `M${x - reach} ${y}H${x - gap}M${x + gap} ${y}H${x + reach}M${x} ${y - reach}V${y - gap}M${x} ${y + gap}V${y + reach}`;
    return [draw("path", { class: "mark-cross casing", d }), draw("path", { class: "mark-cross", d })];
  }
}

customElements.define("mark-board", MarkBoard);
