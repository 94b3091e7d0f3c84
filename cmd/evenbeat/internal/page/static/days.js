// Measures taps and the way to the host. What they come to is worked out there.
import { speak } from "/bench.js";

const place = document.querySelector("[data-tap]");
const form = place.querySelector("form"), pad = place.querySelector("[data-pad]"), count = place.querySelector("[data-count]");
const put = (name, value) => { form.elements[name].value = value; };
let taps;

/** The least step by which this clock goes on, in ms; browsers make it coarse. */
function step() {
  let most = 0;
  for (let n = 0; n < 5; n++) {
    const from = performance.now();
    let to = from;
    while (to === from) to = performance.now();
    most = Math.max(most, to - from);
  }
  return most;
}

/** Asks the host for its time eight times. */
async function rounds() {
  const all = [];
  for (let n = 0; n < 8; n++) {
    const sent = performance.now();
    const answer = await fetch(place.dataset.time, { cache: "no-store" });
    const host = await answer.text(), back = performance.now();
    if (!answer.ok) throw new Error("no time");
    all.push(`${sent}/${host}/${back}`);
  }
  return all.join(" ");
}

function tell(text) {
  count.textContent = text;
  speak(text);
}

async function anew() {
  taps = [];
  for (const name of ["taps", "before", "after"]) put(name, "");
  pad.disabled = true;
  count.textContent = "Comparing your clock with the computer’s …";
  try {
    put("step", step());
    put("before", await rounds());
    count.textContent = "No tap yet.";
    pad.disabled = false;
  } catch {
    tell("The computer doesn’t answer: start again once it does.");
  }
}

async function tap(at) {
  if (pad.disabled) return;
  taps.push(at);
  if (taps.length < 3) {
    tell(`${taps.length} of 3 taps.`);
    return;
  }
  pad.disabled = true;
  try {
    put("after", await rounds());
    put("taps", taps.join(" "));
    tell("Three taps. Now write the minute of the first one, and keep the check.");
    form.elements.minute.focus();
  } catch {
    tell("The computer doesn’t answer: start again once it does.");
  }
}

// A press counts when it begins, by the event's own stamp. A click without a press comes
// from a screen reader.
pad.addEventListener("pointerdown", (e) => { if (e.button === 0) tap(e.timeStamp); });
pad.addEventListener("keydown", (e) => {
  if (e.key !== " " && e.key !== "Enter") return;
  e.preventDefault();
  if (!e.repeat) tap(e.timeStamp);
});
pad.addEventListener("keyup", (e) => { if (e.key === " ") e.preventDefault(); });
pad.addEventListener("click", (e) => { if (e.detail === 0) tap(e.timeStamp); });
place.querySelector("[data-anew]").addEventListener("click", anew);
place.hidden = false;
if (form.elements.taps.value) {
  pad.disabled = true;
  count.textContent = "Three taps.";
} else anew();
