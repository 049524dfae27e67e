// Sends judgements to the server one after the other and holds what is not kept yet, also over a reload.

const PAUSE_MS = 2000;

export class CountKeeper {
  /** `told(news)` hears what the count comes to; `said(words)` hears how the keeping goes. */
  constructor(address, key, told, said) {
    Object.assign(this, { address, key, told, said, busy: null });
    this.waiting = new Map(this.stored());
  }

  /** Judgements of an earlier visit that never reached the server, as [number, code]. */
  stored() {
    try { return JSON.parse(localStorage.getItem(this.key) ?? "[]"); } catch { return []; }
  }

  put(number, code) {
    this.waiting.set(number, code);
    this.hold();
    this.send();
  }

  /** Send until nothing waits; resolves once all is kept or an attempt has failed. */
  send() {
    this.busy ??= this.work().finally(() => { this.busy = null; });
    return this.busy;
  }

  async work() {
    clearTimeout(this.timer);
    while (this.waiting.size) {
      const sent = [...this.waiting];
      this.said("Saving…");
      const news = await this.post(sent);
      if (!news) return;
      for (const [number, code] of sent) if (this.waiting.get(number) === code) this.waiting.delete(number);
      this.hold();
      this.told(news);
    }
    this.said("All saved.");
  }

  async post(sent) {
    const body = new URLSearchParams(sent.map(([number, code]) => [`p${number}`, code]));
    try {
      const answer = await fetch(this.address, { method: "POST", body, headers: { Accept: "application/json" } });
      if (answer.ok) return await answer.json();
      this.said("This count was finished or given up elsewhere. Load the page again.");
    } catch {
      this.said(`${sent.length} not saved yet: the server does not answer. They are held here; trying again.`);
      this.timer = setTimeout(() => this.send(), PAUSE_MS);
    }
    return null;
  }

  hold() {
    try {
      if (this.waiting.size) localStorage.setItem(this.key, JSON.stringify([...this.waiting]));
      else localStorage.removeItem(this.key);
    } catch { /* without storage a reload can lose what the server has not got yet, nothing else */ }
  }
}
