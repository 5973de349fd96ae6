// The page of the notebook. Whatever is typed here goes into this browser's storage and nowhere else.

import { filled, gettext } from "../words.js";
import {
  csvOf, endFaults, jsonOf, lookFaults, lookOf, minuteOf, pairFaults, pairOf, wearFaults, wearsOf,
} from "./notes.js";
import { clearFaults, showFaults, showNotes, titleOf } from "./shown.js";
import { CannotKeep, change, drop, load, onChange } from "./store.js";

const part = document.getElementById("notebook");
const at = (name) => part.querySelector(`[data-${name}]`);
const forms = Object.fromEntries(["begin", "pair", "look", "end"].map((name) => [name, at(name)]));
const LISTS = { pair: "pairs", look: "looks" };
let open = null;

function begin() {
  part.hidden = false;
  forms.begin.addEventListener("submit", guarded(beginWear));
  forms.pair.addEventListener("submit", guarded(() => keepNote("pair", pairFaults, pairOf)));
  forms.look.addEventListener("submit", guarded(() => keepNote("look", lookFaults, lookOf)));
  forms.end.addEventListener("submit", guarded(keepEnd));
  for (const name of ["pair", "look"]) {
    at(`leave-${name}`).addEventListener("click", () => ready(name));
  }
  at("wears").addEventListener("change", () => { open = at("wears").value; show(); });
  at("save-csv").addEventListener("click", () => save(`${stem()}.csv`, "text/csv", csvOf(wearNow())));
  at("save-json").addEventListener("click", () => save("notebook.json", "application/json", jsonOf(load())));
  at("open-file").addEventListener("change", guarded(openFile));
  asking("delete-wear", () => { change((wears) => wears.filter((wear) => wear.id !== open)); open = null; });
  asking("delete-all", () => { drop(); open = null; });
  onChange(show);
  show();
  at("new").open = open === null;
  workWithoutNetwork();
}

function guarded(act) {
  return async (event) => {
    event.preventDefault();
    at("said").hidden = at("trouble").hidden = true;
    try {
      await act();
    } catch (error) {
      if (!(error instanceof CannotKeep)) throw error;
      say(gettext("This browser does not let the page keep anything, so nothing was noted. Write it on paper, and see whether a private window or the browser's settings are the reason."), true);
    }
  };
}

function say(text, trouble = false) {
  at("said").hidden = trouble;
  at("trouble").hidden = !trouble;
  at(trouble ? "trouble" : "said").textContent = text;
}

const wearNow = () => load()?.find((wear) => wear.id === open) ?? null;

function typed(form) {
  const data = new FormData(form);
  const values = Object.fromEntries([...data].map(([name, value]) => [name, value]));
  return { ...values, signs: data.getAll("signs") };
}

/** Show the notebook as it is kept; forms that somebody is filling in stay as they are. */
function show() {
  const wears = load();
  at("unreadable").hidden = wears !== null;
  const known = wears ?? [];
  if (!known.some((wear) => wear.id === open)) {
    open = known.at(-1)?.id ?? null;
    for (const name of ["pair", "look"]) ready(name);
  }
  at("some").hidden = !known.length;
  at("everything").hidden = wears !== null && !known.length;
  at("wears").replaceChildren(...known.map((wear) => new Option(titleOf(wear), wear.id, false, wear.id === open)));
  const wear = wearNow();
  if (!wear) return;
  showNotes(part, wear, { onChange: startChange, onDelete: deleteNote });
  for (const unit of part.querySelectorAll("[data-unit]")) unit.textContent = wear.unit;
  forms.end.cameOff.value ||= wear.cameOff;
  forms.end.endReason.value ||= wear.endReason;
  at("bring").href = `${at("bring").dataset.to}#notebook-${wear.id}`;
}

function beginWear() {
  const told = typed(forms.begin), faults = wearFaults(told);
  if (Object.keys(faults).length) return showFaults(forms.begin, faults);
  const id = crypto.randomUUID();
  const wear = { id, name: told.name.trim(), unit: told.unit, putOn: told.putOn, cameOff: "", endReason: "", pairs: [], looks: [] };
  change((wears) => [...wears, wear]);
  navigator.storage?.persist?.();
  open = id;
  forms.begin.reset();
  forms.end.reset();
  clearFaults(forms.begin);
  at("new").open = false;
  show();
  for (const name of ["pair", "look"]) ready(name);
  say(gettext("Begun. It is kept on this device."));
}

function keepNote(name, faultsOf, noteOf) {
  const form = forms[name], told = typed(form), faults = faultsOf(told, wearNow());
  if (Object.keys(faults).length) return showFaults(form, faults);
  const id = form.dataset.changing || crypto.randomUUID();
  change((wears) => wears.map((wear) => wear.id !== open ? wear : {
    ...wear, [LISTS[name]]: [...wear[LISTS[name]].filter((one) => one.id !== id), { ...noteOf(told), id }],
  }));
  ready(name);
  show();
  say(gettext("Noted on this device."));
}

/** An empty form with the time as it is now. */
function ready(name) {
  const form = forms[name];
  clearFaults(form);
  form.reset();
  delete form.dataset.changing;
  at(`leave-${name}`).hidden = true;
  form.at.value = clock();
}

function clock() {
  const now = new Date();
  return new Date(now.getTime() - 60000 * now.getTimezoneOffset()).toISOString().slice(0, 16);
}

function startChange(name, one) {
  ready(name);
  const form = forms[name];
  form.dataset.changing = one.id;
  at(`leave-${name}`).hidden = false;
  for (const [field, value] of Object.entries(one)) {
    if (field === "signs") form.querySelectorAll('[name="signs"]').forEach((box) => { box.checked = value.includes(box.value); });
    else if (field !== "id") form[field].value = value ?? "";
  }
  form.at.focus();
}

function deleteNote(name, one) {
  change((wears) => wears.map((wear) => wear.id !== open ? wear : {
    ...wear, [LISTS[name]]: wear[LISTS[name]].filter((other) => other.id !== one.id),
  }));
  show();
  say(gettext("Deleted from this device."));
  at("notes-title").focus();
}

function keepEnd() {
  const told = typed(forms.end), faults = endFaults(told, wearNow());
  if (Object.keys(faults).length) return showFaults(forms.end, faults);
  clearFaults(forms.end);
  change((wears) => wears.map((wear) => wear.id !== open ? wear : { ...wear, cameOff: told.cameOff, endReason: told.endReason }));
  show();
  say(gettext("The end is noted. You can bring this wear in now."));
}

/** A button that asks once more before it deletes. */
function asking(name, act) {
  const place = at(name);
  const [ask, sure] = ["ask", "sure"].map((step) => place.querySelector(`[data-step="${step}"]`));
  const turn = (isAsked) => { ask.hidden = isAsked; sure.hidden = !isAsked; };
  ask.addEventListener("click", () => { turn(true); sure.querySelector("button").focus(); });
  sure.querySelector('[data-answer="no"]').addEventListener("click", () => { turn(false); ask.focus(); });
  sure.querySelector('[data-answer="yes"]').addEventListener("click", guarded(() => {
    act();
    turn(false);
    forms.end.reset();
    show();
    say(gettext("Deleted from this device."));
    at("said").focus();
  }));
}

const stem = () => `notes-${wearNow().putOn.slice(0, 10)}`;

function save(name, type, text) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text], { type }));
  link.download = name;
  link.click();
  URL.revokeObjectURL(link.href);
}

async function openFile() {
  const field = at("open-file"), [file] = field.files;
  if (!file) return;
  const found = wearsOf(await file.text());
  field.value = "";
  if (found === null) return say(filled(gettext("%(name)s: this is no file that was saved here."), { name: file.name }), true);
  const ids = new Set(found.map((wear) => wear.id));
  change((wears) => [...wears.filter((wear) => !ids.has(wear.id)), ...found].sort((a, b) => minuteOf(a.putOn) - minuteOf(b.putOn)));
  show();
  say(gettext("What the file holds is in the notebook now."));
}

async function workWithoutNetwork() {
  const line = at("offline"), workers = navigator.serviceWorker;
  if (!workers) {
    line.textContent = gettext("This browser cannot keep the page for a time without network. Notes are kept all the same.");
    return;
  }
  const wasKept = workers.controller !== null;
  workers.addEventListener("controllerchange", () => {
    if (wasKept) line.textContent = gettext("There is a newer notebook. It shows when you load this page again; your notes stay.");
  });
  const isKept = wasKept || (await keptNow());
  line.textContent = isKept
    ? gettext("This page is kept on the device: it opens without network, too.")
    : gettext("This page is not kept for a time without network yet. Load it again while there is one.");
  if (wasKept) keptNow();
}

/** Whether the page is kept, once the browser has tried. */
async function keptNow() {
  try {
    const found = await navigator.serviceWorker.register(part.dataset.worker, { scope: part.dataset.scope, updateViaCache: "none" });
    const worker = found.installing ?? found.waiting ?? found.active;
    if (worker.state === "activated") return true;
    return await new Promise((tell) => worker.addEventListener("statechange", () => {
      if (["activated", "redundant"].includes(worker.state)) tell(worker.state === "activated");
    }));
  } catch {
    return false;
  }
}

begin();
