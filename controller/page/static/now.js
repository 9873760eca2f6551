"use strict";

// Keeps the page Now as it is now: asks for the part that changes, and counts between two answers.
// Without it the page is whole, and right when it was opened.
(() => {
  const EVERY_MS = 2500;
  const PATIENT_MS = 8000; // for one answer
  const OLD_MS = 12000; // what is shown is called old then
  const live = document.getElementById("live");
  const stale = document.getElementById("stale");
  let told = new Map(); // each part as it was last told
  let heard = performance.now();
  let timer = 0;

  const partsOf = (place) =>
    new Map([...place.querySelectorAll("[data-part]")].map((one) => [one.dataset.part, one]));
  const words = (parts) => new Map([...parts].map(([name, one]) => [name, one.outerHTML]));

  // A link under the keyboard, and what is unfolded, stay so when their part is told anew.
  function replace(before, after) {
    const active = document.activeElement;
    const inside = before.contains(active);
    const to = inside && active.getAttribute("href");
    for (const open of before.querySelectorAll("details[open]")) {
      const same = after.querySelector(`#${open.id}`);
      if (same) same.open = true;
    }
    const unfolds = inside && active.matches("summary");
    before.replaceChildren(...after.childNodes);
    for (const { name } of [...before.attributes]) before.removeAttribute(name);
    for (const { name, value } of after.attributes) before.setAttribute(name, value);
    if (unfolds) before.querySelector("summary")?.focus();
    if (to) before.querySelector(`a[href="${CSS.escape(to)}"]`)?.focus();
  }

  // Parts come and go, but never in another order.
  function put(html) {
    const after = partsOf(new DOMParser().parseFromString(html, "text/html"));
    const before = partsOf(live);
    const now = words(after);
    for (const [name, part] of before) if (!after.has(name)) part.remove();
    let next = live.firstElementChild;
    for (const [name, part] of after) {
      const same = before.get(name);
      if (!same) {
        live.insertBefore(part, next);
        continue;
      }
      if (told.get(name) !== now.get(name)) replace(same, part);
      next = same.nextElementSibling;
    }
    told = now;
    document.title = live.querySelector("[role=status] p").textContent;
  }

  async function look() {
    clearTimeout(timer);
    if (!document.hidden) {
      try {
        const answer = await fetch("/now/part", {
          redirect: "manual",
          signal: AbortSignal.timeout(PATIENT_MS),
        });
        if (answer.type === "opaqueredirect") {
          location.reload(); // nobody is signed in any more
          return;
        }
        if (answer.ok) {
          put(await answer.text());
          heard = performance.now();
        }
      } catch {
        // It is asked again; meanwhile the page says that it is old.
      }
      count();
    }
    clearTimeout(timer);
    timer = setTimeout(look, EVERY_MS);
  }

  const two = (number) => String(number).padStart(2, "0");

  function count() {
    const since = performance.now() - heard;
    stale.hidden = since < OLD_MS;
    if (!stale.hidden) document.title = stale.textContent;
    const clock = live.querySelector("[data-clock]");
    if (!clock || !stale.hidden) return;
    const shown = (clock.dataset.clock ||= clock.textContent);
    const [hours, minutes, seconds] = shown.split(":").map(Number);
    const of_day = (hours * 3600 + minutes * 60 + seconds + Math.floor(since / 1000)) % 86400;
    clock.textContent = [of_day / 3600, (of_day / 60) % 60, of_day % 60].map(Math.floor).map(two).join(":");
    const now = Number(clock.closest("[data-now]").dataset.now) + since;
    for (const due of live.querySelectorAll("[data-due]")) {
      const left = Math.ceil((Number(due.dataset.due) - now) / 1000);
      if (left <= 0) due.textContent = "now";
      else if (left < 60) due.textContent = `in ${left} s`;
      else if (left < 3600) due.textContent = `in ${Math.floor(left / 60)} min ${two(left % 60)} s`;
    }
  }

  document.addEventListener("visibilitychange", look);
  setInterval(count, 1000);
  look();
})();
