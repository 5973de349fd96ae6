// Bringing in a wear from this device's notebook: what is shown as leaving is what the form sends.

import { showLeaving } from "./leaving.js";
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
  showLeaving(at, draftOf(wears.find((wear) => wear.id === at("wears").value)));
}
