// A refused form: focus stands on the summary, fields in folded parts are shown, and a link of the
// summary ends in its field. Without scripts the summary is the first thing on the page all the same.

function unfold(element) {
  for (let fold = element?.closest("details"); fold; fold = fold.parentElement?.closest("details")) fold.open = true;
}

const summary = document.getElementById("refused");
if (summary) {
  for (const link of summary.querySelectorAll("a[href^='#']")) {
    const field = document.getElementById(decodeURIComponent(link.hash.slice(1)));
    if (!field) continue;
    unfold(field);
    link.addEventListener("click", (event) => {
      event.preventDefault();
      (document.querySelector(`label[for="${CSS.escape(field.id)}"]`) ?? field).scrollIntoView({ block: "start" });
      field.focus({ preventScroll: field.getBoundingClientRect().bottom < innerHeight });
    });
  }
  // `autofocus` stands back where the address ends in an anchor.
  summary.focus();
  summary.scrollIntoView({ block: "nearest" });
}
