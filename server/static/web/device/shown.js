// How the notebook shows what it holds: lines of notes, and faults beside the fields that they are about.

import { filled, gettext, ngettext } from "../words.js";
import { minuteOf } from "./notes.js";

const moment = (text) => text.replace("T", ", ");

/** A word of a list, as the page's own choices name it. */
function wordOf(part, field, value) {
  return part.querySelector(`select[name="${field}"] option[value="${value}"]`)?.textContent
    ?? part.querySelector(`input[name="${field}"][value="${value}"]`)?.parentElement.textContent.trim() ?? value;
}

function pairLine(part, wear, pair) {
  const sensor = pair.mark ? wordOf(part, "mark", pair.mark) : pair.sensor;
  const told = { at: moment(pair.at), reference: pair.reference, sensor, unit: wear.unit, why: wordOf(part, "prompt", pair.prompt) };
  return filled(gettext("%(at)s: fingerstick %(reference)s, sensor %(sensor)s, in %(unit)s; %(why)s"), told);
}

function lookLine(part, look) {
  const seen = [
    look.grade === null ? "" : wordOf(part, "grade", look.grade),
    ...look.signs.map((sign) => wordOf(part, "signs", sign)),
    look.event && wordOf(part, "event", look.event),
    look.remark,
  ];
  return `${moment(look.at)}: ${seen.filter(Boolean).join("; ")}`;
}

/** All notes of a wear in order of time, each with what can be done about it. */
export function showNotes(part, wear, { onChange, onDelete }) {
  const notes = [
    ...wear.pairs.map((one) => ({ kind: "pair", one, line: pairLine(part, wear, one) })),
    ...wear.looks.map((one) => ({ kind: "look", one, line: lookLine(part, one) })),
  ].sort((a, b) => minuteOf(a.one.at) - minuteOf(b.one.at));
  const items = notes.map(({ kind, one, line }) => {
    const item = document.createElement("li"), text = document.createElement("p"), buttons = document.createElement("p");
    text.textContent = line;
    buttons.className = "buttons";
    buttons.append(
      action(gettext("Change"), line, () => onChange(kind, one)),
      action(gettext("Delete"), line, () => onDelete(kind, one)),
    );
    item.append(text, buttons);
    return item;
  });
  part.querySelector("[data-notes]").replaceChildren(...items);
  part.querySelector("[data-no-notes]").hidden = items.length > 0;
}

function action(says, about, act) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "button";
  button.textContent = says;
  button.setAttribute("aria-label", `${says}: ${about}`);
  button.addEventListener("click", act);
  return button;
}

/** What a wear is called in the list to choose from. */
export function titleOf(wear) {
  const n = wear.pairs.length;
  const pairs = filled(ngettext("%(n)s pair", "%(n)s pairs", n), { n });
  return [wear.name, moment(wear.putOn), pairs].filter(Boolean).join(", ");
}

export function clearFaults(form) {
  for (const fault of form.querySelectorAll(".fault")) fault.remove();
  for (const field of form.querySelectorAll("[aria-invalid]")) {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
  form.querySelector("[data-faults]").hidden = true;
}

/** Say above the form how many things are wrong, and beside each field what; the first of them gets the focus. */
export function showFaults(form, faults) {
  clearFaults(form);
  const list = form.querySelector("[data-faults] ul");
  list.replaceChildren();
  for (const [name, text] of Object.entries(faults)) {
    const field = form.querySelector(`[name="${name}"]`), place = field.closest(".field");
    const label = place.querySelector("label, legend").textContent;
    const beside = document.createElement("span"), line = document.createElement("li"), link = document.createElement("a");
    beside.className = "fault";
    beside.id = `fault-${name}`;
    beside.textContent = text;
    place.append(beside);
    field.setAttribute("aria-invalid", "true");
    field.setAttribute("aria-describedby", beside.id);
    link.href = `#${field.id}`;
    link.textContent = label;
    link.addEventListener("click", (event) => { event.preventDefault(); field.focus(); });
    line.append(link, `: ${text}`);
    list.append(line);
  }
  form.querySelector("[data-faults]").hidden = false;
  form.querySelector(`[name="${Object.keys(faults)[0]}"]`).focus();
}
