// What a notebook's wear holds, what is wrong with what was typed, and what of it would leave the device.

import { filled, gettext } from "../words.js";

export const UNITS = ["mg/dL", "mmol/L"];
const PLAUSIBLE = { "mg/dL": [20, 600], "mmol/L": [1.1, 33.3] };
const MARKS = ["", "below", "above"], PROMPTS = ["scheduled", "doubt", "calibration", "other"];
const MOMENT = /^\d{4}-\d\d-\d\dT\d\d:\d\d$/;
const STORED_STEP_MIN = 5, A_DAY_MIN = 1440, LONGEST_WEAR_MIN = 43200;
const MOST_EVENTS = 3;
const FORMAT = "notebook/1";

/** Minutes on the clock as it was shown; NaN where the text is no moment. */
export const minuteOf = (text) => (MOMENT.test(text) ? Date.parse(`${text}Z`) / 60000 : NaN);

/** A number as people type it, with a point or a comma; null where it is none. */
export function number(text) {
  const typed = String(text).trim().replace(",", ".");
  return /^\d{1,3}(\.\d{1,2})?$/.test(typed) ? Number(typed) : null;
}

/** What is wrong with a wear that is to be begun, by the name of the field. */
export function wearFaults({ putOn, unit }) {
  const faults = {};
  if (Number.isNaN(minuteOf(putOn))) faults.putOn = gettext("Say on which day and at what time it was put on.");
  if (!UNITS.includes(unit)) faults.unit = gettext("Choose the unit that both displays show.");
  return faults;
}

function momentFault(at, wear) {
  const elapsed = minuteOf(at) - minuteOf(wear.putOn);
  if (Number.isNaN(elapsed)) return gettext("Say the day and the time.");
  if (elapsed < 0) return gettext("This lies before it was put on.");
  if (elapsed > LONGEST_WEAR_MIN) return gettext("This lies more than thirty days after it was put on.");
  if (wear.cameOff && minuteOf(at) > minuteOf(wear.cameOff)) return gettext("This lies after it came off.");
  return "";
}

function readingFault(typed, unit, missing) {
  const value = number(typed), [low, high] = PLAUSIBLE[unit];
  if (value === null) return missing;
  if (value >= low && value <= high) return "";
  return filled(gettext("In %(unit)s a display shows %(low)s to %(high)s. Is the unit right?"), { unit, low, high });
}

const told = (faults) => Object.fromEntries(Object.entries(faults).filter(([, text]) => text));

/** What is wrong with a pair as it was typed, by the name of the field. */
export function pairFaults({ at, reference, sensor, mark, prompt }, wear) {
  const noSensor = gettext("Type the number on the sensor's display, or choose that it showed none.");
  return told({
    at: momentFault(at, wear),
    reference: readingFault(reference, wear.unit, gettext("Type the number on the meter's display.")),
    sensor: mark && String(sensor).trim() === "" ? "" : readingFault(sensor, wear.unit, noSensor),
    mark: !MARKS.includes(mark) || (mark && String(sensor).trim() !== "") ? gettext("It shows a number or none, not both.") : "",
    prompt: PROMPTS.includes(prompt) ? "" : gettext("Choose why the fingerstick was taken."),
  });
}

/** A pair that has no fault, as it is kept. */
export const pairOf = ({ at, reference, sensor, mark, prompt }) => ({
  at, reference: number(reference), sensor: mark ? null : number(sensor), mark, prompt,
});

/** What is wrong with a look at skin and sensor. */
export function lookFaults({ at, grade, signs, event, remark }, wear) {
  const empty = grade === "" && !signs.length && event === "" && remark.trim() === "";
  return told({
    at: momentFault(at, wear),
    grade: empty ? gettext("Choose or write at least one thing that you saw.") : "",
    signs: signs.length && grade === "" ? gettext("Signs go with how the skin takes it: choose that, too.") : "",
  });
}

export const lookOf = ({ at, grade, signs, event, remark }) => ({
  at, grade: grade === "" ? null : Number(grade), signs, event, remark: remark.trim().slice(0, 200),
});

/** What is wrong with the end of a wear. */
export function endFaults({ cameOff }, wear) {
  const fault = momentFault(cameOff, { ...wear, cameOff: "" });
  const late = [...wear.pairs, ...wear.looks].some((one) => minuteOf(one.at) > minuteOf(cameOff));
  if (fault || !late) return told({ cameOff: fault });
  return { cameOff: gettext("There are notes from after that time. Correct one of the two.") };
}

/** Of a wear, what would leave the device: minutes since it was put on, and no day, no time of day, no remark. */
export function draftOf(wear) {
  const since = (at) => minuteOf(at) - minuteOf(wear.putOn);
  const pairs = wear.pairs.map(({ at, reference, sensor, mark, prompt }) => ({
    elapsed_min: since(at) - (since(at) % STORED_STEP_MIN),
    reference, sensor, sensor_mark: mark || null, prompt, source: "display",
  }));
  pairs.sort((a, b) => a.elapsed_min - b.elapsed_min);
  const record = { glucose_unit: wear.unit, calibrated: pairs.some((pair) => pair.prompt === "calibration"), pairs };
  if (wear.cameOff) record.worn_min = since(wear.cameOff);
  if (wear.endReason) record.end_reason = wear.endReason;
  const grades = wear.looks.map((look) => look.grade).filter((grade) => grade !== null);
  if (grades.length) {
    record.skin = { grade: Math.max(...grades), signs: [...new Set(wear.looks.flatMap((look) => look.signs))] };
  }
  const events = eventsOf(wear, since);
  if (events.length) record.events = events;
  return { label: "", record };
}

/** The first time of each thing that happened to the sensor, by the day; the form about a wear has room for three. */
function eventsOf(wear, since) {
  const first = new Map();
  for (const look of [...wear.looks].sort((a, b) => minuteOf(a.at) - minuteOf(b.at))) {
    if (look.event && !first.has(look.event)) first.set(look.event, since(look.at));
  }
  const events = [...first].map(([kind, minute]) => ({ kind, elapsed_min: minute - (minute % A_DAY_MIN) }));
  return events.slice(0, MOST_EVENTS);
}

/** The file that a person keeps: everything, times and remarks too. */
export const jsonOf = (wears) => JSON.stringify({ format: FORMAT, wears }, null, 1);

/** Pairs as a table that any spreadsheet opens; every cell of it is a number, a moment or a word of ours. */
export function csvOf(wear) {
  const head = ["time", `fingerstick (${wear.unit})`, `sensor (${wear.unit})`, "sensor showed", "why pricked"];
  const rows = wear.pairs.map((pair) => [pair.at.replace("T", " "), pair.reference, pair.sensor ?? "", pair.mark, pair.prompt]);
  return `${[head, ...rows].map((row) => row.join(",")).join("\r\n")}\r\n`;
}

/** The wears of a file that was saved here; null for any other file. */
export function wearsOf(text) {
  try {
    const { format, wears } = JSON.parse(text);
    return format === FORMAT && Array.isArray(wears) && wears.every(sound) ? wears.map(plain) : null;
  } catch {
    return null;
  }
}

function sound(wear) {
  const { pairs, looks, cameOff } = wear;
  if (Object.keys(wearFaults(wear)).length || !Array.isArray(pairs) || !Array.isArray(looks)) return false;
  if (cameOff !== "" && Number.isNaN(minuteOf(cameOff))) return false;
  const typed = pairs.map((pair) => ({ ...pair, sensor: pair.sensor ?? "" }));
  return typed.every((pair) => !Object.keys(pairFaults(pair, wear)).length)
    && looks.every((look) => Array.isArray(look.signs) && !Object.keys(lookFaults(asTyped(look), wear)).length);
}

const asTyped = (look) => ({ ...look, grade: look.grade ?? "", remark: String(look.remark ?? "") });

function plain(wear) {
  return {
    id: String(wear.id), name: String(wear.name).slice(0, 40), unit: wear.unit, putOn: wear.putOn,
    cameOff: wear.cameOff, endReason: String(wear.endReason ?? ""),
    pairs: wear.pairs.map((pair) => ({ ...pairOf({ ...pair, sensor: pair.sensor ?? "" }), id: String(pair.id) })),
    looks: wear.looks.map((look) => ({ ...lookOf(asTyped(look)), id: String(look.id) })),
  };
}
