// Asks once more before what cannot be taken back. Mark a form (or one of its buttons) with
// data-confirm="What will happen." and, if wanted, data-confirm-button="Close the project".
// Without scripts the form is simply sent; the server's rules are the same.

// In the page's language: the data of base.html's <template id="confirm-words">.
const words = document.getElementById("confirm-words")?.dataset ?? {};
const agreed = new WeakSet();
let dialog = null;

function element(name, className, text) {
  const made = document.createElement(name);
  if (className) made.className = className;
  if (text) made.textContent = text;
  return made;
}

function ask(question, action, kind) {
  dialog ??= document.body.appendChild(element("dialog", "confirm"));
  const title = element("h2", "", words.title ?? "Are you sure?");
  title.id = "confirm-title";
  const text = element("p", "", question);
  text.id = "confirm-text";
  const row = element("form", "actions");
  row.method = "dialog";
  const back = element("button", "btn", words.back ?? "Go back");
  back.value = "";
  const on = element("button", `btn ${kind}`, action);
  on.value = "yes";
  row.append(on, back);
  dialog.replaceChildren(title, text, row);
  dialog.setAttribute("aria-labelledby", title.id);
  dialog.setAttribute("aria-describedby", text.id);
  dialog.returnValue = "";
  dialog.showModal();
  back.focus();
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => resolve(dialog.returnValue === "yes"), { once: true });
  });
}

// In the capture phase: the question comes before any other submit listener sees the form.
document.addEventListener(
  "submit",
  async (event) => {
    const form = event.target;
    const button = event.submitter;
    const source = button?.hasAttribute("data-confirm") ? button : form;
    if (!source.hasAttribute("data-confirm")) return;
    if (agreed.delete(form)) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    const action = source.dataset.confirmButton || button?.textContent.trim() || (words.on ?? "Go on");
    const kind = button?.classList.contains("btn-danger") ? "btn-danger" : "btn-primary";
    if (await ask(source.dataset.confirm, action, kind)) {
      agreed.add(form);
      form.requestSubmit(button ?? undefined);
    }
  },
  true,
);
