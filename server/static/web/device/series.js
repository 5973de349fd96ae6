// A plain table → the readings of one instrument: seconds on the clock as it was shown, and mg/dL.

import { gettext } from "../words.js";
import { CannotRead } from "./table.js";

export const MG_DL_PER_MMOL_L = 18.0156;
const BOUNDS = { "mg/dL": [18, 600], "mmol/L": [1, 33.3] };
const NUMBER = /^[+-]?\d{1,4}(?:[.,]\d{1,3})?$/;
const YEAR_FIRST = /^(\d{4})([-/.])(\d{1,2})\2(\d{1,2})$/;
const YEAR_LAST = /^(\d{1,2})([-/.])(\d{1,2})\2(\d{4})$/;
const TIME = /^(\d{1,2}):(\d{2})(?::(\d{2})(?:\.0+)?)?$/;
const BELOW = ["lo", "low", "below", "niedrig", "tief", "bas", "bajo", "basso", "baixo", "laag", "lågt"];
const ABOVE = ["hi", "high", "above", "hoch", "élevé", "haut", "alto", "hoog", "högt"];
const GLUCOSE = /gl[uiy][ckz]o[sz]|glicemi|glyc[eé]mi|sensor|capteur|reading|fingersti|blutzucker|blodsocker|strip/i;
const FINGERSTICK = /finger|strip|blutzucker|blodsocker|blood|capill|capilar/i;
const SENSOR = /sensor|capteur|interstit/i;
const MOST_NAMED_KINDS = 12, MOST_NUMBERED_KINDS = 4;
const DENSE_MIN = 20, SPARSE_MIN = 45;

/** What a table holds: {kind, unit, readings: [{second, mgDl, mark, line}]}, in order of time. */
export function seriesOf(rows) {
  const header = rows[0].some((cell) => splitMoment(cell.trim())[0]) ? null : rows[0].map((cell) => cell.trim());
  const data = header ? rows.slice(1) : rows;
  if (!data.length) throw new CannotRead(gettext("There is no reading in it."));
  const moments = momentsOf(data);
  const column = readingColumn(header, data, moments.columns);
  refuseKinds(data, [...moments.columns, column]);
  const { unit, values } = valuesOf(header ? header[column] : "", data.map((row) => row[column]));
  const readings = [];
  values.forEach((value, place) => {
    if (value) readings.push({ ...value, second: moments.seconds[place], line: place + (header ? 2 : 1) });
  });
  if (readings.length < 2) throw new CannotRead(gettext("There are fewer than two readings in it."));
  const ordered = inOrder(readings);
  return { kind: kindOf(header ? header[column] : "", ordered), unit, readings: ordered };
}

function splitMoment(cell) {
  const found = /^(\S+?)(?:[T ]\s*(\S+))?$/.exec(cell);
  const date = found && (YEAR_FIRST.exec(found[1]) || YEAR_LAST.exec(found[1]));
  return date ? [found[1], found[2] ?? ""] : ["", ""];
}

function momentsOf(data) {
  const width = data[0].length;
  const full = (test) => [...Array(width).keys()].filter((k) => data.every((row) => test(row[k].trim())));
  const whole = full((cell) => TIME.test(splitMoment(cell)[1]));
  const days = full((cell) => splitMoment(cell)[0] !== "" && splitMoment(cell)[1] === "");
  const hours = full((cell) => TIME.test(cell));
  if (whole.length === 1) return { columns: whole, seconds: seconds(data.map((row) => splitMoment(row[whole[0]].trim()))) };
  if (!whole.length && days.length === 1 && hours.length === 1) {
    const parts = data.map((row) => [row[days[0]].trim(), row[hours[0]].trim()]);
    return { columns: [days[0], hours[0]], seconds: seconds(parts) };
  }
  throw new CannotRead(gettext("No single column says when each reading was taken, in a way that is plain."));
}

function seconds(parts) {
  const dates = parts.map(([date]) => YEAR_FIRST.exec(date) ?? YEAR_LAST.exec(date));
  const last = dates.filter((date) => YEAR_LAST.test(date[0]));
  if (last.length && last.length !== dates.length) throw new CannotRead(gettext("Dates are written in more than one way."));
  const dayFirst = last.some((date) => Number(date[1]) > 12), monthFirst = last.some((date) => Number(date[3]) > 12);
  if (last.length && dayFirst === monthFirst) throw new CannotRead(gettext("It is not plain which number of a date is the day."));
  return parts.map(([, time], place) => {
    const date = dates[place], clock = TIME.exec(time).slice(1).map((part) => Number(part ?? 0));
    const [year, month, day] = last.length
      ? [date[4], dayFirst ? date[3] : date[1], dayFirst ? date[1] : date[3]].map(Number)
      : [date[1], date[3], date[4]].map(Number);
    const second = Date.UTC(year, month - 1, day) / 1000 + clock[0] * 3600 + clock[1] * 60 + clock[2];
    const back = new Date(second * 1000);
    if (clock[0] > 23 || clock[1] > 59 || clock[2] > 59 || back.getUTCMonth() !== month - 1 || back.getUTCDate() !== day) {
      throw new CannotRead(gettext("One of its dates does not exist."));
    }
    return second;
  });
}

function readingColumn(header, data, taken) {
  const spare = [...Array(data[0].length).keys()].filter((k) => !taken.includes(k));
  if (spare.length === 1) return spare[0];
  const named = spare.filter((k) => header && (unitIn(header[k]) || GLUCOSE.test(header[k])));
  const numeric = named.filter((k) => data.some((row) => NUMBER.test(row[k].trim())));
  if (numeric.length !== 1) throw new CannotRead(gettext("It is not plain which column holds the readings."));
  return numeric[0];
}

/** A column that may say what each row is (an instrument, a kind of record) makes one column of readings two. */
function refuseKinds(data, taken) {
  for (let k = 0; k < data[0].length; k += 1) {
    if (taken.includes(k)) continue;
    const distinct = [...new Set(data.map((row) => row[k].trim()))];
    const most = distinct.every((cell) => cell === "" || NUMBER.test(cell)) ? MOST_NUMBERED_KINDS : MOST_NAMED_KINDS;
    if (distinct.length > 1 && distinct.length <= most) {
      throw new CannotRead(gettext("One of its columns may say of each row what it is."));
    }
  }
}

function unitIn(text) {
  return /mmol\s*\/\s*l/i.test(text) ? "mmol/L" : /mg\s*\/\s*dl/i.test(text) ? "mg/dL" : "";
}

function valuesOf(title, cells) {
  const read = cells.map((cell) => valueOf(cell.trim()));
  const numbers = read.filter((one) => one && one.mark === 0).map((one) => one.shown);
  const possible = Object.keys(BOUNDS).filter((unit) => numbers.every((n) => n >= BOUNDS[unit][0] && n <= BOUNDS[unit][1]));
  const unit = unitIn(title) || (possible.length === 1 ? possible[0] : "");
  if (!numbers.length || !unit || !possible.includes(unit)) {
    throw new CannotRead(gettext("It is not plain in which unit the readings are."));
  }
  const factor = unit === "mg/dL" ? 1 : MG_DL_PER_MMOL_L;
  return { unit, values: read.map((one) => one && { mark: one.mark, mgDl: one.mark ? NaN : one.shown * factor }) };
}

function valueOf(cell) {
  if (cell === "") return null;
  if (NUMBER.test(cell)) return { mark: 0, shown: Number(cell.replace(",", ".")) };
  const word = cell.toLowerCase();
  if (BELOW.includes(word) || /^[<≤] ?\d/.test(word)) return { mark: 1 };
  if (ABOVE.includes(word) || /^[>≥] ?\d/.test(word)) return { mark: 2 };
  throw new CannotRead(gettext("A cell among the readings is neither a number nor a plain word for one out of range."));
}

function inOrder(readings) {
  const steps = readings.slice(1).map((one, k) => one.second - readings[k].second);
  if (steps.every((step) => step >= 0)) return readings;
  if (steps.every((step) => step <= 0)) return readings.reverse();
  throw new CannotRead(gettext("Its times go forth and back: the clock was changed, or the rows are in no order."));
}

function kindOf(title, readings) {
  const finger = FINGERSTICK.test(title), sensor = SENSOR.test(title);
  if (finger !== sensor) return finger ? "meter" : "sensor";
  const minutes = median(readings.slice(1).map((one, k) => (one.second - readings[k].second) / 60));
  if (minutes <= DENSE_MIN) return "sensor";
  if (minutes >= SPARSE_MIN) return "meter";
  throw new CannotRead(gettext("It is not plain whether these are the sensor's readings or fingersticks."));
}

export function median(numbers) {
  if (!numbers.length) return Infinity;
  const sorted = [...numbers].sort((a, b) => a - b), half = sorted.length >> 1;
  return sorted.length % 2 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}
