// <face-camera>: the live picture of a microscope or camera, with grid and focus aid, captured straight into a face.

import { CaptureQueue } from "./capture-queue.js";
import { NoCamera, cameras, checkPlace, openCamera } from "./camera-stream.js";
import { drawGrid, focusFrame } from "./camera-grid.js";
import { glareShare, sharpness } from "./focus.js";

const SIZES = ["640x480", "1280x720", "1280x960", "1600x1200", "1920x1080", "2048x1536", "2592x1944", "3264x2448", "3840x2160", "4096x3072"];
const LOOK_MS = 150, SMALL_PX = 320, GLARE_WARNS = 0.01, REMEMBERED = "camera";

class FaceCamera extends HTMLElement {
  connectedCallback() {
    this.parts = Object.fromEntries([...this.querySelectorAll("[data-part]")].map((one) => [one.dataset.part, one]));
    this.looking = document.createElement("canvas").getContext("2d", { willReadFrequently: true });
    this.queue = new CaptureQueue(this.dataset.upload, this.parts.captures, () => this.parts.taken.value);
    this.best = 0;
    this.addEventListener("click", (event) => this.actions[event.target.closest("[data-do]")?.dataset.do]?.());
    document.addEventListener("keydown", this.onKey);
    for (const name of ["device", "size"]) this.parts[name].addEventListener("change", () => this.start(true));
    navigator.mediaDevices?.addEventListener("devicechange", this.onDevices);
    this.parts.size.append(...SIZES.map((size) => new Option(size.replace("x", " × ") + " px", size)));
    this.start(false);
  }

  disconnectedCallback() {
    document.removeEventListener("keydown", this.onKey);
    navigator.mediaDevices?.removeEventListener("devicechange", this.onDevices);
    this.stop();
  }

  actions = {
    start: () => this.start(true), capture: () => this.capture(), freeze: () => this.freeze(!this.frozen),
    grid: () => this.grid(), anew: () => { this.best = 0; },
  };

  onKey = (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.repeat || this.parts.live.hidden) return;
    if (event.target.closest("input, select, textarea")) return;
    const does = { c: "capture", f: "freeze", g: "grid", b: "anew" }[event.key.toLowerCase()];
    if (!does) return;
    event.preventDefault();
    this.actions[does]();
  };

  onDevices = () => { if (this.parts.live.hidden) this.start(false); else this.listCameras(); };

  /** Open the chosen camera; the choice is remembered once it worked. */
  async start(chosen) {
    const kept = chosen ? {} : remembered();
    const device = kept.device ?? this.parts.device.value, size = kept.size ?? this.parts.size.value;
    this.stop();
    try {
      checkPlace();
      this.say("Opening the camera…");
      await this.show(await this.opened(device, size, chosen));
      this.parts.size.value = size;
      await this.listCameras();
      if (chosen) remember({ device: this.parts.device.value, size });
    } catch (error) {
      if (!(error instanceof NoCamera)) throw error;
      this.refused(error);
    }
  }

  /** A remembered camera that isn't plugged in today is no reason to show none. */
  async opened(device, size, chosen) {
    try {
      return await openCamera(device, size);
    } catch (error) {
      if (chosen || !device) throw error;
      return openCamera("", size);
    }
  }

  async show(stream) {
    const { video, live, problem, stage } = this.parts;
    this.stream = stream;
    stream.getVideoTracks()[0].addEventListener("ended", () => this.refused(new NoCamera("The camera went away.", "Plug it in again, then try again.")));
    video.srcObject = stream;
    await video.play();
    [live.hidden, problem.hidden] = [false, true];
    this.best = 0;
    this.freeze(false);
    drawGrid(this.parts.grid, video.videoWidth, video.videoHeight);
    this.say(`Live, ${video.videoWidth} × ${video.videoHeight} px`);
    if (document.activeElement === document.body) stage.focus({ preventScroll: true });
    this.look();
  }

  stop() {
    clearTimeout(this.timer);
    this.stream?.getTracks().forEach((track) => track.stop());
    this.stream = null;
  }

  refused(error) {
    this.stop();
    const { live, problem } = this.parts;
    [live.hidden, problem.hidden] = [true, false];
    problem.querySelector("[data-what]").textContent = error.message;
    problem.querySelector("[data-way]").textContent = error.way;
    this.say("");
  }

  async listCameras() {
    const using = this.stream?.getVideoTracks()[0].getSettings().deviceId;
    this.parts.device.replaceChildren(...(await cameras()).map(([id, name]) => new Option(name, id, false, id === using)));
  }

  /** Keep the present frame still, to look at or to capture; or go on live. */
  freeze(still) {
    const { video, frozen } = this.parts;
    if (still) this.paint(frozen);
    this.frozen = still;
    frozen.hidden = !still;
    for (const one of this.querySelectorAll("[data-do=freeze]")) one.setAttribute("aria-pressed", String(still));
    if (this.stream) this.say(still ? "Frozen. Captured is what you see." : `Live, ${video.videoWidth} × ${video.videoHeight} px`);
  }

  paint(canvas) {
    const { video } = this.parts;
    [canvas.width, canvas.height] = [video.videoWidth, video.videoHeight];
    canvas.getContext("2d").drawImage(video, 0, 0);
    return canvas;
  }

  grid() {
    const shown = this.parts.grid.classList.toggle("shown");
    for (const one of this.querySelectorAll("[data-do=grid]")) one.setAttribute("aria-pressed", String(shown));
  }

  /** Take the frame without loss; one that is too large for the server that way goes as the best JPEG. */
  async capture() {
    if (!this.stream && !this.frozen) return;
    const canvas = this.frozen ? this.parts.frozen : this.paint(document.createElement("canvas"));
    const name = fileName(this.taken = (this.taken ?? 0) + 1);
    let blob = await new Promise((done) => { canvas.toBlob(done, "image/png"); }), ending = "png";
    if (!blob || blob.size > Number(this.dataset.limitBytes)) [blob, ending] = [await new Promise((done) => { canvas.toBlob(done, "image/jpeg", 0.97); }), "jpg"];
    this.queue.add(blob, `${name}.${ending}`);
    this.parts.news.textContent = `Captured ${name}`;
  }

  look() {
    clearTimeout(this.timer);
    if (!document.hidden && !this.frozen && this.parts.video.readyState >= 2) this.measure();
    this.timer = setTimeout(() => this.look(), LOOK_MS);
  }

  measure() {
    const { video, sharp, sharpWords, glare, glareWords } = this.parts;
    const [x, y, width, height] = focusFrame(video.videoWidth, video.videoHeight);
    // Pixel for pixel from the middle: a reduced picture would look sharp long before the face is.
    const value = sharpness(this.pixels(x, y, width, height, width, height));
    this.best = Math.max(this.best, value);
    sharp.value = this.best ? value / this.best : 0;
    sharp.dataset.variance = value.toFixed(3);
    sharpWords.textContent = this.best ? `${Math.round(100 * sharp.value)} % of the best so far` : "nothing to focus on";
    // The middle half each way, where the face lies: a white ground around it may be blown out.
    const [w, h] = [video.videoWidth / 2, video.videoHeight / 2];
    const share = glareShare(this.pixels(w / 2, h / 2, w, h, SMALL_PX, Math.max(1, Math.round(SMALL_PX * h / w))));
    glareWords.textContent = `${(100 * share).toFixed(1)} %`;
    glare.classList.toggle("warns", share > GLARE_WARNS);
    this.parts.glareWarning.hidden = share <= GLARE_WARNS;
  }

  pixels(x, y, width, height, toWidth, toHeight) {
    const { canvas } = this.looking;
    [canvas.width, canvas.height] = [toWidth, toHeight];
    this.looking.drawImage(this.parts.video, x, y, width, height, 0, 0, toWidth, toHeight);
    return this.looking.getImageData(0, 0, toWidth, toHeight);
  }

  say(words) { this.parts.state.textContent = words; }
}

function fileName(number) {
  const two = (value) => String(value).padStart(2, "0"), at = new Date();
  return `camera-${at.getFullYear()}${two(at.getMonth() + 1)}${two(at.getDate())}-${two(at.getHours())}${two(at.getMinutes())}${two(at.getSeconds())}-${two(number)}`;
}

function remembered() {
  try { return JSON.parse(localStorage.getItem(REMEMBERED)) ?? {}; } catch { return {}; }
}

function remember(choice) {
  try { localStorage.setItem(REMEMBERED, JSON.stringify(choice)); } catch { /* then it is chosen again next time */ }
}

customElements.define("face-camera", FaceCamera);
