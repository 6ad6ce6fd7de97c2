// The waiting page (studio/errands/page.html) asks for its state by itself. Once the state names
// where it goes on, the page is left for good: "Back" then leads to the page before the waiting
// one, and not into a circle.

function goOn(root) {
  const done = root.querySelector("[data-goes-on]");
  if (done) window.location.replace(done.dataset.goesOn);
}

document.addEventListener("htmx:afterSettle", () => goOn(document));
goOn(document);
