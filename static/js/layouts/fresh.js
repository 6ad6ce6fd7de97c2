// Two windows of one layout: whoever comes back to this one sees what was done in the other.

// The state as the server has it now; null where it cannot be had.
export async function freshState(address) {
  try {
    const answer = await fetch(address, { credentials: "same-origin", redirect: "manual", cache: "no-store" });
    if (!answer.ok) return null;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    return JSON.parse(page.getElementById("layout-state").textContent);
  } catch {
    return null; // without a network there is nothing new either
  }
}

// Calls `back` whenever somebody comes back to this window.
export function whenBack(back) {
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") back();
  });
  addEventListener("pageshow", (event) => {
    if (event.persisted) back();
  });
  addEventListener("focus", back);
}
