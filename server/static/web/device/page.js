// The page on which exports are read on the device: what is shown there as leaving is what the form sends.

import { filled, gettext } from "../words.js";
import { showLeaving } from "./leaving.js";
import { CannotRead, ToPutRight, decoded, rowsOf } from "./table.js";
import { seriesOf } from "./series.js";
import { paired } from "./pairing.js";

const STORED_STEP_MIN = 5;
const part = document.getElementById("device");
const at = (name) => part.querySelector(`[data-${name}]`);
let read = {};

if (part) {
  part.hidden = false;
  at("read").addEventListener("click", () => guarded(readFiles));
  at("pair").addEventListener("click", () => guarded(pairThem));
}

async function guarded(act) {
  at("trouble").hidden = true;
  at("leaving").hidden = true;
  try {
    await act();
  } catch (error) {
    if (!(error instanceof CannotRead)) throw error;
    at("trouble").hidden = false;
    at("trouble-says").textContent = error.message;
    at("trouble-other-way").hidden = error instanceof ToPutRight;
    at("trouble").focus();
  }
}

async function readFiles() {
  at("times").hidden = true;
  read = {};
  const files = [...at("files").files];
  if (files.length !== 2) throw new ToPutRight(gettext("Choose two files: the sensor's export and the meter's."));
  for (const file of files) {
    const series = await seriesOfFile(file);
    if (read[series.kind]) throw new ToPutRight(BOTH[series.kind]);
    read[series.kind] = series;
  }
  at("found").replaceChildren(...["sensor", "meter"].map(line));
  offer("begins", read.sensor.readings[0].second);
  offer("ends", read.sensor.readings.at(-1).second);
  at("times").hidden = false;
}

const BOTH = {
  sensor: gettext("Both files seem to hold the sensor's readings. Choose the meter's export beside it."),
  meter: gettext("Both files seem to hold fingersticks. Choose the sensor's export beside it."),
};
const FOUND = {
  sensor: gettext("the sensor's readings: %(n)s, in %(unit)s, from %(from)s to %(to)s"),
  meter: gettext("fingersticks: %(n)s, in %(unit)s, from %(from)s to %(to)s"),
};

async function seriesOfFile(file) {
  try {
    return seriesOf(rowsOf(decoded(new Uint8Array(await file.arrayBuffer()))));
  } catch (error) {
    if (error instanceof CannotRead) throw new CannotRead(`${file.name}: ${error.message}`);
    throw error;
  }
}

function line(kind) {
  const { readings, unit } = read[kind];
  const item = document.createElement("li");
  const [from, to] = [readings[0], readings.at(-1)].map((one) => said(one.second));
  item.textContent = filled(FOUND[kind], { n: readings.length, unit, from, to });
  return item;
}

// Clocks are shown as the exports have them: as if they all ran on UTC, and without a change in spring or autumn.
const typed = (second) => new Date(second * 1000).toISOString().slice(0, 16);
const said = (second) => new Date(second * 1000).toLocaleString(document.documentElement.lang, {
  timeZone: "UTC", dateStyle: "medium", timeStyle: "short", hourCycle: "h23",
});

function offer(name, second) {
  const button = at(`offer-${name}`);
  button.textContent = `${button.dataset.says} ${said(second)}`;
  button.onclick = () => { at(name).value = typed(second); };
}

function moment(name) {
  const second = Date.parse(`${at(name).value}Z`) / 1000;
  if (Number.isNaN(second)) {
    throw new ToPutRight(gettext("Say when the sensor was put on and when it came off, each with day and time."));
  }
  return second;
}

function pairThem() {
  const { pairs, nLeftOut, wornMin, unit } = paired(read.sensor, read.meter, {
    inserted: moment("begins"),
    ended: moment("ends"),
    aheadMin: Number(at("ahead").value) || 0,
    beforeOnly: at("calibrated").checked,
    prompt: at("prompt").value,
  });
  const kept = pairs.map((pair) => ({ ...pair, elapsed_min: pair.elapsed_min - (pair.elapsed_min % STORED_STEP_MIN) }));
  const record = { glucose_unit: unit, worn_min: wornMin, calibrated: at("calibrated").checked, pairs: kept };
  const leftOut = gettext("Fingersticks that have no reading near enough, or lie outside the wear: %(n)s.");
  showLeaving(at, { label: "", record }, nLeftOut ? [filled(leftOut, { n: nLeftOut })] : []);
}
