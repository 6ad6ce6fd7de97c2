// Proposes the time zone of this computer: chosen at once where none has been chosen yet, offered
// by a button where the school still goes by UTC. The choice stays with the teacher.

function offer(form, select, here) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "btn btn-small mt-2";
  button.textContent = form.dataset.takeTimeZone.replace("[zone]", here.replaceAll("_", " "));
  button.addEventListener("click", () => {
    select.value = here;
    select.focus();
    button.remove();
  });
  select.after(button);
}

for (const form of document.querySelectorAll("form[data-take-time-zone]")) {
  const select = form.querySelector("select[name=time_zone]");
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (!select || select.value === here || ![...select.options].some((option) => option.value === here)) continue;
  if (select.value === "") select.value = here;
  else if (select.value === "UTC") offer(form, select, here);
}
