// What would leave this device: first as lines that anybody can read, then byte for byte. The form sends those bytes.

import { filled, gettext, ngettext } from "../words.js";

const A_DAY_MIN = 1440;

/** Show a draft in the part of the page that `at` looks things up in; `more` are sentences behind the number of pairs. */
export function showLeaving(at, draft, more = []) {
  const text = JSON.stringify([draft]), { pairs, glucose_unit: unit, worn_min: wornMin } = draft.record, n = pairs.length;
  at("drafts").value = text;
  at("shown").textContent = text;
  at("count").textContent = [
    filled(ngettext("%(n)s pair.", "%(n)s pairs.", n), { n }),
    wornMin === undefined ? "" : worn(parted(wornMin)),
    ...more,
  ].filter(Boolean).join(" ");
  at("pairs-in").textContent = filled(gettext("Pairs, in %(unit)s"), { unit });
  at("pairs").replaceChildren(...pairs.map(row));
  at("pairs").closest("table").hidden = n === 0;
  at("size").textContent = filled(gettext("%(n)s bytes."), { n: new TextEncoder().encode(text).length });
  at("leaving").hidden = false;
  at("leaving").scrollIntoView();
}

function worn(long) {
  return filled(ngettext(
    "Worn for %(days)s day, %(hours)s h %(minutes)s min.", "Worn for %(days)s days, %(hours)s h %(minutes)s min.", long.days,
  ), long);
}

function row(pair) {
  const { days, hours, minutes } = parted(pair.elapsed_min), line = document.createElement("tr"), when = document.createElement("th");
  when.scope = "row";
  when.className = "words";
  when.textContent = filled(gettext("day %(day)s, after %(hours)s h %(minutes)s min"), {
    day: days + 1, hours, minutes: String(minutes).padStart(2, "0"),
  });
  line.append(when, cell(pair.reference), cell(pair.sensor ?? SHOWED[pair.sensor_mark]));
  return line;
}

const SHOWED = { below: gettext("below its range"), above: gettext("above its range") };

function cell(value) {
  const made = document.createElement("td");
  made.className = "number";
  made.textContent = typeof value === "number" ? value.toLocaleString(document.documentElement.lang, { maximumFractionDigits: 2 }) : value;
  return made;
}

function parted(total) {
  const rest = total % A_DAY_MIN;
  return { days: Math.floor(total / A_DAY_MIN), hours: Math.floor(rest / 60), minutes: rest % 60 };
}
