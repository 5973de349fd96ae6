// Bringing in a wear from this device's notebook: what is shown as leaving is what the form sends.

import { filled, gettext, ngettext } from "../words.js";
import { draftOf } from "./notes.js";
import { titleOf } from "./shown.js";
import { load } from "./store.js";

const part = document.getElementById("from-notebook");
const at = (name) => part.querySelector(`[data-${name}]`);
const wears = load() ?? [];

if (part && wears.length) {
  const asked = location.hash.replace("#notebook-", "");
  at("wears").replaceChildren(...wears.map((wear) => new Option(titleOf(wear), wear.id, false, wear.id === asked)));
  at("wears").addEventListener("change", () => { at("leaving").hidden = true; });
  at("show").addEventListener("click", show);
  part.hidden = false;
  if (wears.some((wear) => wear.id === asked)) show();
}

function show() {
  const draft = draftOf(wears.find((wear) => wear.id === at("wears").value));
  const text = JSON.stringify([draft]), n = draft.record.pairs.length;
  at("drafts").value = text;
  at("shown").textContent = text;
  at("count").textContent = [
    filled(ngettext("%(n)s pair.", "%(n)s pairs.", n), { n }),
    filled(gettext("%(n)s bytes."), { n: new TextEncoder().encode(text).length }),
  ].join(" ");
  at("leaving").hidden = false;
  at("leaving").scrollIntoView();
}
