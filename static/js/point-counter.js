// <point-counter>: one point at a time under a cross, one key a point. Without it the same form lists a field's points.

import { CountKeeper } from "./count-keeper.js";
import { showPoint, showWhole } from "./count-marks.js";

const STEP = 1.4, NEAREST_PX = 20;
const MOVES = { Backspace: "undo", ArrowLeft: "back", ArrowRight: "on", n: "next", "+": "in", "=": "in", "-": "out", Enter: "end" };

class PointCounter extends HTMLElement {
  connectedCallback() {
    const rows = JSON.parse(this.dataset.points);
    this.points = rows.map(([x, y]) => [x, y]);
    this.fields = rows.map(([, , field]) => field);
    this.codes = rows.map(([, , , code]) => code);
    this.window = Number(this.dataset.window);
    this.done = [];  // numbers of the points judged on this visit, for undoing
    this.keeper = new CountKeeper(this.dataset.save, this.dataset.key, (news) => this.tell(news), (words) => this.say("[data-kept]", words));
    for (const [number, code] of this.keeper.waiting) this.codes[number] = code;
    this.part("[data-live]").hidden = false;
    this.part("[data-plain]").hidden = true;
    this.listen();
    this.go(Math.max(this.codes.indexOf(""), 0));
    this.part("[data-board]").focus({ preventScroll: true });
    if (this.keeper.waiting.size) this.keeper.send();
  }

  disconnectedCallback() { clearTimeout(this.keeper.timer); }

  part(selector) { return this.querySelector(selector); }

  say(selector, words) {
    const place = this.part(selector);
    if (place.textContent !== words) place.textContent = words;
  }

  listen() {
    // Keys count only while the focus is on the board, so that they never get in the way of typing or of a screen reader.
    this.part("[data-live]").addEventListener("keydown", (event) => this.key(event));
    this.part("[data-live]").addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (button?.dataset.code) this.judge(button.dataset.code);
      if (button?.dataset.do) this.move(button.dataset.do);
    });
    const end = this.part("[data-end]");
    end.addEventListener("submit", (event) => {
      if (!this.keeper.waiting.size) return;
      event.preventDefault();
      this.keeper.send().then(() => { if (!this.keeper.waiting.size) end.requestSubmit(); });
    });
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const onButton = event.target.closest("button");
    if (this.part(`[data-code="${CSS.escape(key)}"]`)) { event.preventDefault(); if (!event.repeat) this.judge(key); }
    else if (MOVES[key] && !(key === "Enter" && onButton)) { event.preventDefault(); this.move(MOVES[key]); }
  }

  judge(code) {
    const number = this.now, button = this.part(`[data-code="${code}"] span`);
    this.codes[number] = code;
    this.done.push(number);
    this.keeper.put(number, code);
    this.go(this.nextOpen(number), `Last: ${button.textContent}. `);
  }

  /** The next point without a judgement, going round; the same point where all are judged. */
  nextOpen(from) {
    const after = this.codes.indexOf("", from + 1);
    const any = after === -1 ? this.codes.indexOf("") : after;
    return any === -1 ? from : any;
  }

  move(what) {
    const last = this.points.length - 1;
    if (what === "undo") this.undo();
    else if (what === "back") this.go(Math.max(this.now - 1, 0));
    else if (what === "on") this.go(Math.min(this.now + 1, last));
    else if (what === "next") this.go(this.nextOpen(this.now));
    else if (what === "in" || what === "out") this.zoom(what === "in" ? 1 / STEP : STEP);
    else if (what === "end" && !this.codes.includes("")) this.part("[data-end] input").focus();
  }

  undo() {
    // After a reload there is no list of what was done: then the last judged point before the present one is meant.
    const before = this.codes.findLastIndex((code, number) => code && number < (this.codes[this.now] ? this.now + 1 : this.now));
    const number = this.done.pop() ?? before;
    if (number < 0) return;
    this.codes[number] = "";
    this.keeper.put(number, "");
    this.go(number, "Undone. ");
  }

  zoom(factor) {
    const most = Math.max(this.dataset.width, this.dataset.height);
    this.window = Math.min(Math.max(this.window * factor, NEAREST_PX), most);
    this.go(this.now);
  }

  go(number, before = "") {
    this.now = number;
    showPoint(this.part("[data-view]"), this.points[number], this.window);
    showWhole(this.part("[data-whole]"), this.points, this.codes, this.fields, number);
    for (const button of this.querySelectorAll("[data-code]")) button.setAttribute("aria-pressed", button.dataset.code === this.codes[number]);
    this.say("[data-state]", before + this.where(number));
  }

  where(number) {
    if (!this.codes.includes("")) return "All points are judged. Enter goes to the end of the count.";
    const field = this.fields[number], first = this.fields.indexOf(field);
    const size = this.fields.lastIndexOf(field) - first + 1, all = this.fields.at(-1) + 1;
    const code = this.codes[number], word = code && this.part(`[data-code="${code}"] span`).textContent;
    return `Point ${number - first + 1} of ${size}, field ${field + 1} of ${all}${word ? `: ${word}` : ""}.`;
  }

  tell(news) {
    for (const place of this.querySelectorAll("[data-news]")) place.textContent = news[place.dataset.news];
    this.part("[data-progress]").value = news.judged;
  }
}

customElements.define("point-counter", PointCounter);
