// Two windows of one layout: whoever comes back to this one sees what was done in the other.

// The layout's page as the server has it now; null where it cannot be had.
export async function freshPage(address) {
  try {
    const answer = await fetch(address, { credentials: "same-origin", redirect: "manual", cache: "no-store" });
    return answer.ok ? new DOMParser().parseFromString(await answer.text(), "text/html") : null;
  } catch {
    return null; // without a network there is nothing new either
  }
}

export async function freshState(address) {
  const page = await freshPage(address);
  const found = page?.getElementById("layout-state");
  return found ? JSON.parse(found.textContent) : null;
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
