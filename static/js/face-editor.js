// <face-editor>: outline, holes, zones and scale line drawn over the photo; the form's fields stay the truth.

import { attachKeys } from "./editor-keys.js";
import { attachPointer } from "./editor-pointer.js";
import { History } from "./history.js";
import { moveCorner, readRings, shownCorners, writeRings } from "./rings.js";
import { drawShapes, NAMES } from "./shapes.js";
import { View } from "./view.js";

const FIELDS = { outer: "outer_px", hole: "holes_px", zone: "unknown_px" };
const ENDS = ["x1_px", "y1_px", "x2_px", "y2_px"];
const number = (text) => Number(text.replace(",", ".").replace("px", "").trim() || NaN);

class FaceEditor extends HTMLElement {
  connectedCallback() {
    this.form = this.closest("form");
    this.svg = this.querySelector("svg.canvas");
    this.group = this.querySelector("[data-shapes]");
    this.size = [Number(this.dataset.width), Number(this.dataset.height)];
    this.view = new View(this.svg, ...this.size);
    this.active = null;
    this.draft = null;
    this.state = this.readFields();
    this.history = new History(this.state);
    this.svg.tabIndex = 0;
    this.classList.add("live");
    this.querySelector("[data-tools]").hidden = false;
    attachPointer(this);
    attachKeys(this);
    this.attachButtons();
    new ResizeObserver(() => this.draw()).observe(this.svg);
    this.draw();
  }

  get tool() { return this.querySelector("[name=editor-tool]:checked").value; }

  field(name) { return this.form.elements[name]; }

  readFields() {
    const state = { ruler: [] };
    for (const [kind, name] of Object.entries(FIELDS)) state[kind] = readRings(this.field(name).value);
    const [x1, y1, x2, y2] = ENDS.map((name) => number(this.field(name).value));
    if ([x1, y1, x2, y2].every(Number.isFinite)) state.ruler = [[[x1, y1], [x2, y2]]];
    return state;
  }

  /** Take over what is drawn: into the form's fields, the picture and, when a gesture is over, the history. */
  changed(isOver = true) {
    for (const [kind, name] of Object.entries(FIELDS)) this.field(name).value = writeRings(this.state[kind]);
    const ruler = this.state.ruler[0]?.flat() ?? [];
    ENDS.forEach((name, index) => { this.field(name).value = ruler[index]?.toFixed(1) ?? ""; });
    this.form.dispatchEvent(new CustomEvent("ruler-moved"));
    if (isOver) this.history.keep(this.state);
    this.draw();
  }

  draw() {
    const hadFocus = this.group.contains(document.activeElement);
    drawShapes(this.group, this.state, this.view.scale, this.active, this.draft);
    if (hadFocus) ((this.active && this.activeHandle()) ?? this.svg).focus({ preventScroll: true });
    this.svg.classList.toggle("whole", this.view.isWhole && this.tool === "move");
    this.button("undo").disabled = !this.history.has(-1);
    this.button("redo").disabled = !this.history.has(1);
    this.button("remove").disabled = !this.active || this.active.kind === "ruler";
    this.button("drop").disabled = !this.active;
    this.button("close").hidden = !this.draft;
  }

  button(name) { return this.querySelector(`[data-do=${name}]`); }

  activeHandle() {
    const { kind, number: which, index } = this.active;
    return this.group.querySelector(`[data-kind=${kind}][data-number="${which}"][data-index="${index}"]`);
  }

  say(words) { this.querySelector("[data-state]").textContent = words; }

  // --- corners

  get activeRing() { return this.active ? this.state[this.active.kind][this.active.number] : null; }

  activate(kind, which, index) {
    this.active = { kind, number: which, index };
    this.draw();
  }

  moveActive(dx, dy, isOver = true) {
    const ring = this.activeRing;
    if (!ring) return;
    const shown = this.active.kind === "ruler" ? [0, 1] : shownCorners(ring, 24 / this.view.scale, this.active.index);
    moveCorner(ring, shown, this.active.index, dx, dy);
    for (const corner of ring) this.keepInside(corner);
    this.changed(isOver);
  }

  keepInside(corner) {
    corner[0] = Math.min(Math.max(corner[0], 0), this.size[0] - 1);
    corner[1] = Math.min(Math.max(corner[1], 0), this.size[1] - 1);
    return corner;
  }

  step(by) {
    const ring = this.activeRing;
    if (!ring) return;
    this.active.index = (this.active.index + by + ring.length) % ring.length;
    this.view.reveal(ring[this.active.index]);
    this.draw();
    this.activeHandle()?.focus({ preventScroll: true });
  }

  insertAfter(kind, which, after, place) {
    this.state[kind][which].splice(after + 1, 0, this.keepInside([...place]));
    this.active = { kind, number: which, index: after + 1 };
  }

  addAfterActive() {
    const ring = this.activeRing;
    if (!ring || this.active.kind === "ruler") return;
    const [ax, ay] = ring[this.active.index], [bx, by] = ring[(this.active.index + 1) % ring.length];
    this.insertAfter(this.active.kind, this.active.number, this.active.index, [(ax + bx) / 2, (ay + by) / 2]);
    this.changed();
    this.activeHandle()?.focus();
  }

  removeCorner() {
    const ring = this.activeRing;
    if (!ring || this.active.kind === "ruler") return;
    if (ring.length <= 3) { this.say("A shape needs three corners. Remove the whole shape instead."); return; }
    ring.splice(this.active.index, 1);
    this.active.index %= ring.length;
    this.changed();
    this.activeHandle()?.focus();
  }

  removeShape() {
    if (!this.active) return;
    this.state[this.active.kind].splice(this.active.number, 1);
    this.say(`${NAMES[this.active.kind]} removed.`);
    this.active = null;
    this.changed();
  }

  // --- drawing anew

  get draws() { return ["outer", "hole", "zone"].includes(this.tool); }

  addToDraft(place) {
    const corner = this.keepInside([...place]);
    this.draft ??= { corners: [], cross: null };
    const first = this.draft.corners[0];
    if (first && this.draft.corners.length > 2 && Math.hypot(first[0] - corner[0], first[1] - corner[1]) < 14 / this.view.scale) {
      this.closeDraft();
      return;
    }
    this.draft.corners.push(corner);
    this.say(`${this.draft.corners.length} corner${this.draft.corners.length > 1 ? "s" : ""} set. Close the shape with the button, with Enter, or on its first corner.`);
    this.draw();
  }

  closeDraft() {
    if (!this.draft) return;
    if (this.draft.corners.length < 3) { this.say("A shape needs three corners; set more of them."); return; }
    const kind = this.tool;
    if (kind === "outer") this.state.outer = [];
    this.state[kind].push(this.draft.corners);
    this.active = { kind, number: this.state[kind].length - 1, index: 0 };
    this.draft = null;
    this.choose("move");
    this.say(`${NAMES[kind]} drawn; not saved yet.`);
    this.changed();
  }

  giveUpDraft() {
    this.draft = null;
    this.say("");
    this.draw();
  }

  choose(tool) {
    this.querySelector(`[name=editor-tool][value=${tool}]`).checked = true;
    this.toolChosen();
  }

  toolChosen() {
    if (this.draft && !this.draws) this.draft = null;
    const [width, height] = this.size;
    if (this.tool === "ruler" && !this.state.ruler.length) {
      this.state.ruler = [[[width * 0.25, height / 2], [width * 0.75, height / 2]]];
      this.active = { kind: "ruler", number: 0, index: 0 };
      this.changed();
    }
    const help = {
      move: "Drag a corner. Drag beside it to move the photo.", add: "Press on a line where a corner is wanted.",
      outer: "Press corner by corner around the face. The old outline is replaced.", hole: "Press corner by corner around the hole.",
      zone: "Press corner by corner around what can't be judged.", ruler: "Drag the two ends to two marks whose distance you know.",
    };
    this.say(help[this.tool]);
    this.draw();
  }

  go(by) {
    const state = this.history.go(by);
    if (!state) return;
    this.state = state;
    this.active = null;
    this.draft = null;
    this.changed(false);
  }

  zoom(factor, at) {
    this.view.zoom(factor, at);
    this.draw();
  }

  // --- buttons, fields, and the search on the server

  attachButtons() {
    const actions = {
      undo: () => this.go(-1), redo: () => this.go(1), remove: () => this.removeCorner(), drop: () => this.removeShape(),
      close: () => this.closeDraft(), in: () => this.zoom(1.6), out: () => this.zoom(1 / 1.6), fit: () => { this.view.fit(); this.draw(); },
    };
    for (const [name, action] of Object.entries(actions)) this.button(name).addEventListener("click", action);
    for (const radio of this.querySelectorAll("[name=editor-tool]")) radio.addEventListener("change", () => this.toolChosen());
    for (const name of [...Object.values(FIELDS), ...ENDS]) {
      this.field(name).addEventListener("change", () => {
        this.state = this.readFields();
        this.history.keep(this.state);
        this.draw();
      });
    }
    const find = this.form.querySelector("[data-find-button]");
    find.addEventListener("click", (event) => { event.preventDefault(); this.find(find); });
  }

  async find(button) {
    button.disabled = true;
    this.say("Looking for the outline…");
    try {
      const answer = await fetch(this.dataset.find, { method: "POST", body: new FormData(this.form), headers: { Accept: "application/json" } });
      const found = await answer.json();
      if (!answer.ok) { this.say(found.detail); return; }
      this.state.outer = [found.outer_px];
      this.state.hole = found.holes_px;
      this.active = null;
      this.choose("move");
      this.changed();
      this.say(found.words);
    } catch {
      this.say("The server did not answer. Try again, or draw the outline.");
    } finally {
      button.disabled = false;
    }
  }
}

customElements.define("face-editor", FaceEditor);
