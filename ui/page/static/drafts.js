// What was typed and not sent yet, kept in this tab: a reload loses nothing of it.

const place = (name) => `dotward.draft.${name}`;

export function readDraft(name) {
  try {
    return JSON.parse(sessionStorage.getItem(place(name))) || {};
  } catch {
    return {};
  }
}

export function keepDraft(name, value) {
  try {
    sessionStorage.setItem(place(name), JSON.stringify(value));
  } catch {
    // A browser that keeps nothing: then what is typed lives as long as the page.
  }
}

export function dropDraft(name) {
  try {
    sessionStorage.removeItem(place(name));
  } catch {
    // Nothing was kept.
  }
}
