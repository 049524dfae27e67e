// <scale-fields>: shows the fields of the chosen way to know the scale, and what they come to while they are filled in.

const number = (text) => Number((text ?? "").replace(",", ".").replace(/[^\d.+-]*$/, "").trim() || NaN);

class ScaleFields extends HTMLElement {
  connectedCallback() {
    this.form = this.closest("form");
    const [width] = [this.form.querySelector("face-editor")?.dataset.width].map(Number);
    this.width = width;
    this.form.addEventListener("input", () => this.tell());
    this.form.addEventListener("ruler-moved", () => this.tell());
    this.tell();
  }

  value(name) { return number(this.form.elements[name].value); }

  tell() {
    const method = this.form.elements.scale_method.value;
    for (const part of this.querySelectorAll("[data-for]")) part.hidden = !part.dataset.for.split(" ").includes(method);
    this.querySelector("[data-live]").textContent = this.words(method);
  }

  words(method) {
    const length = Math.hypot(this.value("x2_px") - this.value("x1_px"), this.value("y2_px") - this.value("y1_px"));
    const known = {
      points: this.value("distance_mm"),
      roads: this.value("road_count") * (this.value("road_pitch_mm") || this.value("line_width_mm")),
    }[method];
    const scale = method === "um_per_px" ? this.value("um_per_px") : (known * 1000) / length;
    if (!(scale > 0) || !Number.isFinite(scale)) {
      return method === "um_per_px" || !Number.isFinite(length) ? "" : `The scale line is ${length.toFixed(1)} px long.`;
    }
    const photo = `The photo is ${((scale * this.width) / 1000).toPrecision(3)} mm wide.`;
    const line = Number.isFinite(length) ? ` The scale line: ${length.toFixed(1)} px, ${((length * scale) / 1000).toPrecision(4)} mm.` : "";
    return `${scale.toPrecision(4)} µm per pixel. ${photo}${line}`;
  }
}

customElements.define("scale-fields", ScaleFields);
