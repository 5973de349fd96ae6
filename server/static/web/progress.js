// A page that shows a job under way looks again by itself, and says how long it may take once it has seen enough.

import { filled, gettext, ngettext } from "./words.js";

/**
 * Seconds until all parts are done at the pace seen, or null as long as no pace was seen.
 * `changes` are the moments (in seconds) at which the count of finished parts was seen to grow, with the count from then on:
 * between the first and the last of them whole parts were done, which what came before the first does not say.
 */
export function secondsLeft(changes, total, now) {
  const first = changes[0], last = changes.at(-1);
  if (changes.length < 2) return null;
  return ((total - last.done) * (last.at - first.at)) / (last.done - first.done) - (now - last.at);
}

export function leftInWords(seconds) {
  if (seconds === null) return gettext("How long it will take cannot be said before a few parts are done.");
  if (seconds <= 0) return gettext("It takes longer than the parts before.");
  const minutes = Math.ceil(seconds / 60);
  const text = ngettext("At the pace seen so far about %(n)s minute more.", "At the pace seen so far about %(n)s minutes more.", minutes);
  return filled(text, { n: minutes });
}

const place = document.querySelector("[data-again]");
if (place) watch(place, 1000 * Number(place.dataset.again));

function watch(element, pause) {
  const changes = [], left = element.querySelector("[data-left]");
  let done = Number(element.dataset.done);
  left.hidden = false;
  left.textContent = leftInWords(null);
  const look = async () => {
    const now = await asked();
    if (now === null) {
      left.textContent = gettext("The server does not answer just now. This page goes on asking.");
    } else if (now.querySelector("[data-again]") === null) {
      location.reload();
      return;
    } else {
      const fresh = now.querySelector("[data-again]").dataset;
      const at = performance.now() / 1000;
      if (Number(fresh.done) !== done) {
        done = Number(fresh.done);
        changes.push({ at, done });
        element.querySelector("[data-says]").textContent = now.querySelector("[data-says]").textContent;
        element.querySelector("progress").value = done;
      }
      left.textContent = leftInWords(secondsLeft(changes, Number(fresh.total), at));
    }
    setTimeout(look, pause);
  };
  setTimeout(look, pause);
}

async function asked() {
  try {
    const answer = await fetch(location.href, { cache: "no-store" });
    if (!answer.ok) return null;
    return new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    return null;
  }
}
