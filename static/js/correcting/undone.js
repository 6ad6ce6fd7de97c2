// What was undone can be done again after the page is loaded anew, as long as the lines are the
// same. It is kept in this tab only.

const UNDONE = "correcting-undone";

// The groups of changes that were undone, newest last.
export function undoneBefore(state) {
  try {
    const kept = JSON.parse(sessionStorage.getItem(UNDONE));
    const same = kept?.page === state.urls.page && kept.version === state.version;
    return same && Array.isArray(kept.redo) ? kept.redo : [];
  } catch {
    return [];
  }
}

export function keepUndone(state, redo) {
  try {
    if (redo.length) sessionStorage.setItem(UNDONE, JSON.stringify({ page: state.urls.page, version: state.version, redo }));
    else sessionStorage.removeItem(UNDONE);
  } catch {
    // Without room, or where a browser keeps nothing, it lasts until the page is left.
  }
}
