// Where the notebook lies: one entry of this browser's own storage for this site. Nothing here sends anything.

const ENTRY = "commonwear-notebook";

export class CannotKeep extends Error {}

/** Every wear in the notebook; what cannot be read is left where it is and told by `null`. */
export function load() {
  try {
    const text = localStorage.getItem(ENTRY);
    const wears = text === null ? [] : JSON.parse(text);
    return Array.isArray(wears) ? wears : null;
  } catch {
    return null;
  }
}

/** Change the notebook as it is now: another tab may have written since. */
export function change(act) {
  const wears = load();
  if (wears === null) throw new CannotKeep();
  const changed = act(wears);
  try {
    localStorage.setItem(ENTRY, JSON.stringify(changed));
  } catch {
    throw new CannotKeep();
  }
  return changed;
}

export function drop() {
  localStorage.removeItem(ENTRY);
}

/** Call `act` when another tab has changed the notebook. */
export function onChange(act) {
  addEventListener("storage", (event) => {
    if (event.key === ENTRY || event.key === null) act();
  });
}
