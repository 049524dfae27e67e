// Captured pictures on their way to the server: one after the other, held here until the server has answered.

export class CaptureQueue {
  /** `address` takes the upload; `taken()` says when they are taken; pictures are listed in `list`. */
  constructor(address, list, taken) {
    Object.assign(this, { address, list, taken, waiting: [], busy: false });
    window.addEventListener("beforeunload", (event) => { if (this.unsent) event.preventDefault(); });
  }

  /** How many pictures the server does not have yet. */
  get unsent() { return this.list.querySelectorAll("li:not(.kept)").length; }

  add(blob, name) {
    const item = document.createElement("li"), picture = document.createElement("img");
    picture.src = URL.createObjectURL(blob);
    picture.alt = `Captured: ${name}`;
    item.append(picture, line("name", name), line("state", ""), line("again actions", ""));
    this.list.prepend(item);
    this.send({ blob, name, item, taken: this.taken() });
  }

  send(one) {
    tell(one, "waiting", "Waiting to be sent");
    this.waiting.push(one);
    this.work();
  }

  async work() {
    if (this.busy) return;
    this.busy = true;
    while (this.waiting.length) await this.post(this.waiting.shift());
    this.busy = false;
  }

  async post(one) {
    tell(one, "sending", "Sending…");
    const body = new FormData();
    body.append("photos", one.blob, one.name);
    body.append("taken", one.taken);
    try {
      const answer = await fetch(this.address, { method: "POST", body, headers: { Accept: "application/json" } });
      const news = (answer.headers.get("content-type") ?? "").includes("json") ? await answer.json() : {};
      if (answer.ok && news.kept?.length) return tell(one, "kept", "Kept");
      if (answer.ok && news.already_there?.length) return tell(one, "kept", "Was here already; not added twice");
      this.failed(one, news.refused?.[0]?.detail ?? news.detail ?? `The server answered with ${answer.status}.`);
    } catch {
      this.failed(one, "The server does not answer.");
    }
    return null;
  }

  failed(one, why) {
    tell(one, "failed", `Not kept: ${why} The picture is held here.`);
    one.item.querySelector(".again").replaceChildren(
      button("Send again", () => this.send(one)),
      saving(one),
      button("Drop it", () => { URL.revokeObjectURL(one.item.querySelector("img").src); one.item.remove(); }),
    );
  }
}

function tell(one, state, words) {
  one.item.className = state;
  one.item.querySelector(".state").textContent = words;
  one.item.querySelector(".again").replaceChildren();
}

function line(kind, words) {
  const made = document.createElement("p");
  made.className = kind;
  made.textContent = words;
  return made;
}

function button(words, does) {
  const made = document.createElement("button");
  Object.assign(made, { type: "button", className: "quiet", textContent: words });
  made.addEventListener("click", does);
  return made;
}

function saving(one) {
  const made = document.createElement("a");
  Object.assign(made, { href: one.item.querySelector("img").src, download: one.name, textContent: "Save as a file" });
  return made;
}
