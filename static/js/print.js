// A print view's own button; without scripts there is the browser's menu, and the PDF.

for (const button of document.querySelectorAll("button[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
