// The page on which exports are read on the device: what is shown there as leaving is what the form sends.

import { filled, gettext, ngettext } from "../words.js";
import { CannotRead, decoded, rowsOf } from "./table.js";
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
    at("trouble").focus();
  }
}

async function readFiles() {
  at("times").hidden = true;
  read = {};
  const files = [...at("files").files];
  if (files.length !== 2) throw new CannotRead(gettext("Choose two files: the sensor's export and the meter's."));
  for (const file of files) {
    const series = await seriesOfFile(file);
    if (read[series.kind]) throw new CannotRead(BOTH[series.kind]);
    read[series.kind] = series;
  }
  at("found").replaceChildren(...["sensor", "meter"].map(line));
  offer("begins", read.sensor.readings[0].second);
  offer("ends", read.sensor.readings.at(-1).second);
  at("times").hidden = false;
}

const BOTH = {
  sensor: gettext("Both files seem to hold the sensor's readings."),
  meter: gettext("Both files seem to hold fingersticks."),
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
  const [from, to] = [readings[0], readings.at(-1)].map((one) => shown(one.second).replace("T", ", "));
  item.textContent = filled(FOUND[kind], { n: readings.length, unit, from, to });
  return item;
}

const shown = (second) => new Date(second * 1000).toISOString().slice(0, 16);

function offer(name, second) {
  const button = at(`offer-${name}`);
  button.textContent = `${button.dataset.says} ${shown(second).replace("T", ", ")}`;
  button.onclick = () => { at(name).value = shown(second); };
}

function moment(name) {
  const second = Date.parse(`${at(name).value.trim().replace(" ", "T")}Z`) / 1000;
  if (Number.isNaN(second)) {
    throw new CannotRead(gettext("Say when the sensor was put on and when it came off, such as 2031-01-17T08:00."));
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
  const text = JSON.stringify([{ label: "", record }]);
  at("drafts").value = text;
  at("shown").textContent = text;
  at("count").textContent = [
    filled(ngettext("%(n)s pair.", "%(n)s pairs.", pairs.length), { n: pairs.length }),
    filled(gettext("Fingersticks that have no reading near enough, or lie outside the wear: %(n)s."), { n: nLeftOut }),
    filled(gettext("%(n)s bytes."), { n: new TextEncoder().encode(text).length }),
  ].join(" ");
  at("leaving").hidden = false;
  at("leaving").scrollIntoView();
}
