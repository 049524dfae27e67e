// <print-button>: shows its button where the browser can print, and prints the page.

class PrintButton extends HTMLElement {
  connectedCallback() {
    const button = this.querySelector("button");
    button.hidden = typeof window.print !== "function";
    button.addEventListener("click", () => window.print());
  }
}

customElements.define("print-button", PrintButton);
