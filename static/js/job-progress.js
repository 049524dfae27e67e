// <job-progress>: asks how far a measuring is and moves on once it has ended.

const PAUSE_MS = 500;

class JobProgress extends HTMLElement {
  connectedCallback() { this.ask(); }

  disconnectedCallback() { clearTimeout(this.timer); }

  async ask() {
    try {
      const answer = await fetch(this.dataset.address, { headers: { Accept: "application/json" } });
      const news = await answer.json();
      if (news.go) { location.replace(news.go); return; }
      if (["failed", "cancelled"].includes(news.state)) { location.reload(); return; }
      this.tell(news);
    } catch {
      this.querySelector("[data-words]").textContent = "The server does not answer; asking again.";
    }
    this.timer = setTimeout(() => this.ask(), PAUSE_MS);
  }

  tell(news) {
    const words = this.querySelector("[data-words]"), text = news.words[0].toUpperCase() + news.words.slice(1);
    if (words.textContent !== text) words.textContent = text;
    this.querySelector("progress").value = news.share_done;
  }
}

customElements.define("job-progress", JobProgress);
