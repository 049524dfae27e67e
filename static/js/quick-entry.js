// <quick-entry>: photos add up, what is typed outlives a closed page, and nothing is lost where sending fails.

const DRAFT = "quick-entry";

class QuickEntry extends HTMLElement {
  connectedCallback() {
    this.form = this.querySelector("form");
    this.parts = Object.fromEntries([...this.querySelectorAll("[data-part]")].map((one) => [one.dataset.part, one]));
    this.shots = [];
    this.classList.add("live");
    this.restore();
    this.form.addEventListener("input", () => this.hold());
    this.form.addEventListener("submit", (event) => { event.preventDefault(); this.send(); });
    this.form.elements.part.addEventListener("change", () => this.ask());
    for (const input of this.querySelectorAll("input[type=file]")) input.addEventListener("change", () => this.take(input));
    if (this.form.elements.part.value) this.ask();
  }

  /** A phone's camera gives one photo at a time, and the next choice would replace the last. */
  take(input) {
    for (const file of input.files) this.show(file);
    input.value = "";
  }

  show(file) {
    const item = document.createElement("li"), picture = document.createElement("img"), drop = document.createElement("button");
    picture.src = URL.createObjectURL(file);
    picture.alt = file.name;
    Object.assign(drop, { type: "button", className: "quiet", textContent: "Remove" });
    drop.setAttribute("aria-label", `Remove ${file.name}`);
    drop.addEventListener("click", () => {
      this.shots = this.shots.filter((one) => one !== file);
      URL.revokeObjectURL(picture.src);
      item.remove();
    });
    item.append(picture, drop);
    this.parts.shots.append(item);
    this.shots.push(file);
  }

  async ask() {
    try {
      const answer = await fetch(`${this.dataset.known}?name=${encodeURIComponent(this.form.elements.part.value)}`);
      if (answer.ok) this.parts.known.textContent = (await answer.json()).words;
    } catch { /* it is said again when the entry is sent */ }
  }

  async send() {
    const button = this.form.querySelector(".keep button");
    if (button.disabled) return;
    button.disabled = true;
    button.textContent = "Sending…";
    const body = new FormData(this.form);
    body.delete("photos");
    for (const file of this.shots) body.append("photos", file, file.name);
    try {
      const answer = await fetch(this.form.action, { method: "POST", body, headers: { Accept: "application/json" } });
      const isNews = (answer.headers.get("content-type") ?? "").includes("json");
      this.heard(answer, isNews ? await answer.json() : {});
    } catch {
      this.trouble("The server does not answer. Nothing is lost: try again once it is in reach.");
    }
    button.disabled = false;
    button.textContent = "Log it";
  }

  heard(answer, news) {
    this.wrong(news.errors ?? {});
    if (news.errors) return this.trouble("Not saved yet: look at the marked fields. The photos are still here.");
    if (!answer.ok || !news.go) return this.trouble(`Not saved: the server answered with ${answer.status}. Nothing is lost here; try again.`);
    forget();
    if (!news.refused.length) return location.assign(news.go);
    this.trouble(`It is logged, but not every photo could be kept. ${news.refused.map((one) => `${one.file_name}: ${one.detail}`).join(" ")} `);
    const on = document.createElement("a");
    Object.assign(on, { href: news.go, textContent: "Go on with the case" });
    this.parts.trouble.append(on);
    this.form.querySelector(".keep").hidden = true;
    return null;
  }

  trouble(words) {
    this.parts.trouble.hidden = false;
    this.parts.trouble.textContent = words;
    this.parts.trouble.scrollIntoView({ block: "center" });
  }

  wrong(errors) {
    for (const old of this.querySelectorAll(".field .error")) old.remove();
    for (const field of this.querySelectorAll(".field")) {
      const input = field.querySelector("input, textarea"), words = errors[input.name];
      field.classList.toggle("wrong", Boolean(words));
      input.setAttribute("aria-invalid", String(Boolean(words)));
      if (!words) continue;
      const said = document.createElement("p");
      said.className = "error";
      said.textContent = words;
      field.append(said);
    }
  }

  /** Opening the camera can make a phone drop the page: the words are then still there. */
  hold() {
    const { part, happened, where } = this.form.elements;
    try { sessionStorage.setItem(DRAFT, JSON.stringify([part.value, happened.value, where.value])); } catch { /* then not */ }
  }

  restore() {
    const { part, happened, where } = this.form.elements;
    if (part.value || happened.value || where.value) return;
    try { [part.value, happened.value, where.value] = JSON.parse(sessionStorage.getItem(DRAFT)) ?? ["", "", ""]; } catch { /* then not */ }
  }
}

function forget() {
  try { sessionStorage.removeItem(DRAFT); } catch { /* it was not held either */ }
}

customElements.define("quick-entry", QuickEntry);
