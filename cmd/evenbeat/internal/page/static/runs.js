// The places of a session: commands without a reload, and sounds.
import { say } from "/bench.js";

const element = document.querySelector("[data-stream]");
element.events.addEventListener("mode", (e) => {
  if (e.data !== element.dataset.mode) location.reload(); // it has begun or ended
});

document.addEventListener("submit", async (e) => {
  const form = e.target.closest("form[data-stay]");
  if (!form) return;
  e.preventDefault();
  const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form, e.submitter)), redirect: "manual" });
  if (answer.type === "opaqueredirect") {
    form.reset();
    return;
  }
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  say(page.querySelector("main p:not([class], #said)")?.textContent ?? "That can't be done.");
});

// Once there is a reading, what was read before it makes room.
element.events.addEventListener("last", () => {
  const read = element.querySelector(".cautions[open]");
  if (read && element.querySelector(".reading")) read.open = false;
});

const mute = document.querySelector("[data-mute]");
const sound = window.AudioContext && mute ? new AudioContext() : null;
let muted = localStorage.getItem("muted") === "yes";

/** Sounds notes, each a frequency in Hz, one after the other. */
function play(...notes) {
  if (!sound || muted || sound.state !== "running") return;
  notes.forEach((f, i) => {
    const from = sound.currentTime + 0.16 * i, o = sound.createOscillator(), g = sound.createGain();
    o.frequency.value = f;
    g.gain.setValueAtTime(0.3, from);
    g.gain.exponentialRampToValueAtTime(0.001, from + 0.15);
    o.connect(g).connect(sound.destination);
    o.start(from);
    o.stop(from + 0.16);
  });
}

if (sound) {
  const show = () => {
    mute.hidden = false;
    mute.textContent = muted ? "Sound is off" : "Sound is on";
    mute.setAttribute("aria-pressed", String(!muted));
  };
  mute.addEventListener("click", () => {
    muted = !muted;
    localStorage.setItem("muted", muted ? "yes" : "no");
    show();
    play(880);
  });
  document.addEventListener("pointerdown", () => sound.resume());
  document.addEventListener("keydown", () => sound.resume());
  element.events.addEventListener("sound", (e) => (e.data === "kept" ? play(880) : e.data === "doubtful" ? play(330, 247) : play(587, 440)));
  show();
}
