// Undo and redo of plain data.

const MOST = 200;

export class History {
  constructor(state) {
    this.steps = [JSON.stringify(state)];
    this.at = 0;
  }

  /** Remember a state, unless nothing changed. */
  keep(state) {
    const text = JSON.stringify(state);
    if (text === this.steps[this.at]) return;
    this.steps = [...this.steps.slice(0, this.at + 1), text].slice(-MOST);
    this.at = this.steps.length - 1;
  }

  /** Return the state `by` steps away, or null where there is none. */
  go(by) {
    if (!this.steps[this.at + by]) return null;
    this.at += by;
    return JSON.parse(this.steps[this.at]);
  }

  has(by) { return Boolean(this.steps[this.at + by]); }
}
