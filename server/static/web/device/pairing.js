// Fingersticks and the sensor readings beside them, by the rules of the server: the closest first, none used twice.

import { gettext } from "../words.js";
import { ToPutRight } from "./table.js";
import { MG_DL_PER_MMOL_L, median } from "./series.js";

const REPLICATE_WITHIN_S = 120, WIDEST_BRIDGE_S = 1200, TOLERANCE_MIN = 5;
const HALF_WINDOW_MIN = 7.5, MOST_MG_DL_MIN = 20, LONGEST_WEAR_MIN = 43200;
const PLAUSIBLE = { "mg/dL": [20, 600], "mmol/L": [1.1, 33.3] };
const MARKS = [null, "below", "above"];

/** {pairs, nLeftOut, wornMin}; times are seconds on the sensor's clock, `aheadMin` is how far the meter's is ahead. */
export function paired(sensor, meter, { inserted, ended, aheadMin = 0, beforeOnly = false, prompt = "other" }) {
  const wornS = ended - inserted, unit = meter.unit;
  if (!(wornS >= 60 && wornS <= 60 * LONGEST_WEAR_MIN)) {
    throw new ToPutRight(gettext("A wear ends after it begins, and at most thirty days later. Correct one of the two times."));
  }
  const trace = traceOf(sensor.readings, inserted, wornS, unit);
  const sticks = meter.readings.map((one) => ({ ...one, second: one.second - inserted - Math.round(60 * aheadMin) }));
  sticks.sort((a, b) => a.second - b.second || a.mark - b.mark || a.mgDl - b.mgDl || a.line - b.line);
  const strips = stripsOf(sticks.filter((one, k) => stands(one, sticks[k - 1], wornS, unit)));
  const spacing = median(trace.slice(1).map((one, k) => one.second - trace[k].second)) / 60;
  const between = !beforeOnly && spacing > 2 * TOLERANCE_MIN && spacing <= WIDEST_BRIDGE_S / 60;
  const matched = greedy(between ? around(strips, trace) : near(strips, trace, beforeOnly));
  const pairs = [];
  strips.forEach((strip, k) => {
    const match = matched.get(k);
    if (match && trace[match.first].mark === trace[match.second].mark) {
      pairs.push(pairOf(strip, trace, match, { unit, prompt, rate: rateAt(strip.second, trace, spacing, beforeOnly) }));
    }
  });
  return { pairs, nLeftOut: meter.readings.length - pairs.length, wornMin: Math.floor(wornS / 60), unit };
}

function traceOf(readings, inserted, wornS, unit) {
  const inside = readings
    .map((one) => ({ ...one, second: one.second - inserted }))
    .filter((one) => one.second >= 0 && one.second <= wornS && plausible(one, unit));
  return inside.filter((one, k) => k === 0 || one.second !== inside[k - 1].second);
}

function stands(one, before, wornS, unit) {
  const repeats = before && before.second === one.second && before.mark === one.mark && same(before.mgDl, one.mgDl);
  return !repeats && one.mark === 0 && plausible(one, unit) && one.second >= 0 && one.second <= wornS;
}

const same = (a, b) => Math.abs(a - b) <= 1e-9 || (Number.isNaN(a) && Number.isNaN(b));

function plausible(one, unit) {
  const value = shownIn(one.mgDl, unit);
  return one.mark !== 0 || (value >= PLAUSIBLE[unit][0] && value <= PLAUSIBLE[unit][1]);
}

/** First strips, each with the second one within two minutes; a third stays out. */
function stripsOf(usable) {
  const strips = [];
  for (let start = 0; start < usable.length;) {
    let end = start + 1;
    while (end < usable.length && usable[end].second <= usable[start].second + REPLICATE_WITHIN_S) end += 1;
    strips.push({ ...usable[start], replicate: end - start > 1 ? usable[start + 1].mgDl : null });
    start = end;
  }
  return strips;
}

function near(strips, trace, beforeOnly) {
  const tolerance = 60 * TOLERANCE_MIN, found = [];
  strips.forEach((strip, k) => trace.forEach((reading, place) => {
    const late = reading.second - strip.second;
    if (-late <= tolerance && late <= (beforeOnly ? 0 : tolerance)) {
      found.push({ strip: k, first: place, second: place, gap: Math.abs(late) });
    }
  }));
  return found.sort((a, b) => a.gap - b.gap || a.first - b.first || a.strip - b.strip);
}

function around(strips, trace) {
  const found = [];
  strips.forEach((strip, k) => {
    const after = trace.findIndex((reading) => reading.second >= strip.second);
    if (after < 0) return;
    const first = trace[after].second === strip.second ? after : after - 1;
    if (first < 0) return;
    const gaps = [strip.second - trace[first].second, trace[after].second - strip.second];
    if (gaps[0] + gaps[1] <= WIDEST_BRIDGE_S) found.push({ strip: k, first, second: after, gap: Math.min(...gaps) });
  });
  return found.sort((a, b) => a.gap - b.gap || a.strip - b.strip);
}

function greedy(candidates) {
  const matched = new Map(), used = new Set();
  for (const one of candidates) {
    if (matched.has(one.strip) || used.has(one.first) || used.has(one.second)) continue;
    matched.set(one.strip, one);
    used.add(one.first).add(one.second);
  }
  return matched;
}

function pairOf(strip, trace, match, { unit, prompt, rate }) {
  const first = trace[match.first], second = trace[match.second];
  const share = (strip.second - first.second) / Math.max(second.second - first.second, 1);
  const value = match.first === match.second ? first.mgDl : first.mgDl * (1 - share) + second.mgDl * share;
  return {
    elapsed_min: Math.floor(strip.second / 60),
    reference: shownIn(strip.mgDl, unit),
    prompt,
    source: "trace",
    sensor: first.mark ? null : shownIn(value, unit),
    sensor_mark: MARKS[first.mark],
    rate_mg_dl_min: rate === null ? null : hundredths(rate),
    gap_min: halfEven(match.gap / 60),
    replicate: strip.replicate === null ? null : shownIn(strip.replicate, unit),
  };
}

/** Slope of the trace around a moment, mg/dL a minute; null where it cannot be told. */
function rateAt(at, trace, spacing, beforeOnly) {
  const half = Math.round(60 * Math.max(HALF_WINDOW_MIN, trace.length > 1 ? spacing : 0));
  const [start, end] = beforeOnly ? [at - 2 * half, at] : [at - half, at + half];
  const window = trace.filter((one) => one.second >= start && one.second <= end);
  if (window.length < 2) return null;
  const minutes = window.map((one) => (one.second - at) / 60);
  if (Math.max(...minutes) - Math.min(...minutes) < half / 60) return null;
  const mean = minutes.reduce((sum, one) => sum + one, 0) / minutes.length;
  const squares = minutes.reduce((sum, one) => sum + (one - mean) ** 2, 0);
  const slope = minutes.reduce((sum, one, k) => sum + (one - mean) * window[k].mgDl, 0) / squares;
  return Math.abs(slope) <= MOST_MG_DL_MIN ? slope : null;
}

export function shownIn(mgDl, unit) {
  return hundredths(mgDl / (unit === "mg/dL" ? 1 : MG_DL_PER_MMOL_L));
}

const hundredths = (value) => halfEven(value * 100) / 100;

function halfEven(value) {
  const below = Math.floor(value), rest = value - below;
  return rest > 0.5 || (rest === 0.5 && below % 2 !== 0) ? below + 1 : below;
}
