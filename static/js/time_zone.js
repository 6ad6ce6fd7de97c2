// On the first run, proposes the time zone of this computer; the choice stays with the teacher.

for (const form of document.querySelectorAll("form[data-guess-time-zone]")) {
  const select = form.querySelector("select[name=time_zone]");
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  const untouched = select && select.value === "UTC" && !form.querySelector(".is-invalid");
  if (untouched && [...select.options].some((option) => option.value === here)) select.value = here;
}
