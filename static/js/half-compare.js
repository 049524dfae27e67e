// <half-compare>: two pictures of one frame side by side, one over the other with a slider, or by turns.

const TURN_MS = 800;  // under three changes a second

class HalfCompare extends HTMLElement {
  connectedCallback() {
    this.ways = this.querySelector("[data-ways]");
    this.slide = this.querySelector("[data-slide]");
    this.pair = this.querySelector("[data-pair]");
    this.there = this.pair.querySelector(".there");
    this.ways.hidden = false;
    this.ways.addEventListener("input", () => this.show());
    this.show();
  }

  disconnectedCallback() { clearInterval(this.timer); }

  show() {
    const way = this.ways.querySelector("[name=way]:checked").value;
    clearInterval(this.timer);
    this.slide.hidden = way !== "wipe";
    this.pair.classList.toggle("over", way !== "beside");
    this.there.hidden = false;
    this.wipe(way === "wipe" ? Number(this.slide.querySelector("input").value) : 100);
    if (way === "blink") this.timer = setInterval(() => this.turn(), TURN_MS);
  }

  /** Leave `percent` of the upper picture standing, from its right edge. */
  wipe(percent) { this.there.style.setProperty("--left", `${100 - percent}%`); }

  turn() { this.there.hidden = !this.there.hidden; }
}

customElements.define("half-compare", HalfCompare);
