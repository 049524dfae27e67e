// <photo-drop>: photos can be dropped onto the form, and what is chosen is named before it is sent.

class PhotoDrop extends HTMLElement {
  connectedCallback() {
    this.files = this.querySelector("input[multiple]");
    this.list = this.querySelector("[data-chosen]");
    this.classList.add("live");
    this.addEventListener("change", () => this.tell());
    for (const kind of ["dragenter", "dragover"]) {
      this.addEventListener(kind, (event) => { event.preventDefault(); this.classList.add("over"); });
    }
    this.addEventListener("dragleave", (event) => { if (!this.contains(event.relatedTarget)) this.classList.remove("over"); });
    this.addEventListener("drop", (event) => this.take(event));
  }

  take(event) {
    event.preventDefault();
    this.classList.remove("over");
    const all = new DataTransfer();
    for (const file of [...this.files.files, ...event.dataTransfer.files]) all.items.add(file);
    this.files.files = all.files;
    this.tell();
  }

  tell() {
    const chosen = [...this.querySelectorAll("input[type=file]")].flatMap((input) => [...input.files]);
    this.list.replaceChildren(...chosen.map((file) => {
      const item = document.createElement("li");
      item.textContent = `${file.name}, ${(file.size / 1e6).toFixed(1)} MB`;
      return item;
    }));
  }
}

customElements.define("photo-drop", PhotoDrop);
