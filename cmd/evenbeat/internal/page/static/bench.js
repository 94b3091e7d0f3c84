// What all places have in common. A page is whole without it.

const said = document.getElementById("said"), spoken = document.getElementById("spoken");

/** Shows a sentence, and speaks it. */
export function say(text) {
  said.textContent = text;
}

/** Speaks a sentence once, to those who hear the page. Others see the like on it. */
export function speak(text) {
  if (spoken.textContent !== text) spoken.textContent = text;
}

/** Listens to the event stream of an element, and shows the fragments that it brings. */
function listen(element) {
  const events = new EventSource(element.dataset.stream);
  for (const part of element.querySelectorAll("[data-part]")) {
    events.addEventListener(part.dataset.part, (e) => {
      const fresh = document.createElement("template");
      fresh.innerHTML = e.data;
      if (part.innerHTML === fresh.innerHTML) return; // as when the page has just come
      const at = part.contains(document.activeElement) && document.activeElement.id;
      const begun = [...part.querySelectorAll("details[open] [id], input[id]")];
      part.replaceChildren(fresh.content);
      for (const was of begun) { // what a person has begun in there goes on
        const is = document.getElementById(was.id);
        if (!is && was.checked) part.append(was.closest("label")); // a port that was pulled out stays chosen
        if (!is) continue;
        if (was.closest("details[open]")) is.closest("details")?.setAttribute("open", "");
        if ("value" in was) is.value = was.value;
        if ("checked" in was) is.checked = was.checked;
      }
      if (at) document.getElementById(at)?.focus();
    });
  }
  events.addEventListener("say", (e) => speak(e.data));
  element.events = events; // for the place's own script
}

/** Has what is typed into a form checked after each pause. */
function check(form) {
  const into = document.getElementById(form.dataset.into);
  let wait, asked = 0;
  form.addEventListener("input", () => {
    clearTimeout(wait);
    wait = setTimeout(async () => {
      const mine = ++asked;
      const answer = await fetch(form.dataset.check, { method: "POST", body: new URLSearchParams(new FormData(form)) });
      if (answer.ok && mine === asked) into.innerHTML = await answer.text();
    }, 250);
  });
}

document.querySelectorAll("[data-stream]").forEach(listen);
document.querySelectorAll("form[data-check]").forEach(check);
