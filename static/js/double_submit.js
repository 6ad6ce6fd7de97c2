// Keeps one form from being sent twice: its buttons rest once it is on its way and wake when the
// page is shown again (the browser's Back button brings the old page with its buttons asleep).
// Opt out with data-send-often (downloads, filters). The server refuses a second send anyway.

const SLEEPING = "data-sending";

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || event.defaultPrevented) return;
  if (form.getAttribute("method")?.toLowerCase() !== "post" || form.hasAttribute("data-send-often")) return;
  if (form.hasAttribute(SLEEPING)) {
    event.preventDefault();
    return;
  }
  form.setAttribute(SLEEPING, "");
  // Not `disabled`: a disabled button would drop its own name and value from what is sent.
  for (const button of form.querySelectorAll("button, input[type=submit]")) {
    button.setAttribute("aria-disabled", "true");
    button.classList.add("is-sending");
  }
});

function wake(root) {
  for (const form of root.querySelectorAll(`form[${SLEEPING}]`)) {
    form.removeAttribute(SLEEPING);
    for (const button of form.querySelectorAll("button, input[type=submit]")) {
      button.removeAttribute("aria-disabled");
      button.classList.remove("is-sending");
    }
  }
}

window.addEventListener("pageshow", () => wake(document));
document.addEventListener("htmx:afterRequest", () => wake(document));
