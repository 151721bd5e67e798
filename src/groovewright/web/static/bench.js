// What the page can do beyond forms and links, all of which work without it: steppers and sliders, saving
// as soon as a value changes, drawings that follow, undo by keyboard. No code from outside, nothing evaluated.
"use strict";
(() => {
  const root = document.documentElement;
  root.classList.add("on");
  const page = () => document.getElementById("page");
  const unsaved = new Set();
  let queue = Promise.resolve(), waiting = 0, timer = 0;

  const number = (text) => {
    const said = text.trim().replace("−", "-").replace(",", ".");
    return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(said) ? Number(said) : null;
  };
  const places = (step) => (String(step).split(".")[1] || "").length;

  function step(input, by) {
    const slider = document.querySelector(`input[type=range][data-for="${CSS.escape(input.id)}"]`);
    const start = number(input.value) ?? (slider ? Math.max(0, Number(slider.min)) : 0);
    input.value = String(Number((start + by).toFixed(Math.max(places(by), places(start)))));
    input.dispatchEvent(new Event("input", { bubbles: true }));
    later(input, 700);
  }

  function later(input, wait) {
    const form = input.form;
    if (!form || !form.hasAttribute("data-auto")) return;
    clearTimeout(timer);
    timer = setTimeout(() => form.isConnected && form.requestSubmit(), wait);
  }

  function sliders() {
    for (const slider of document.querySelectorAll("input[type=range][data-for]")) {
      const value = number(document.getElementById(slider.dataset.for)?.value || "");
      slider.value = value ?? (Number(slider.min) < 0 ? 0 : slider.min);
    }
  }

  // --- saving: one request after the other, each says which state of the job its writer saw
  function saved(text, wait) {
    const place = document.getElementById("saved");
    if (place) { place.textContent = text; place.classList.toggle("wait", Boolean(wait)); }
  }

  function send(form, button) {
    const fields = new FormData(form, button);
    const action = form.action;
    for (const name of fields.keys()) unsaved.delete(name);
    waiting += 1;
    saved("Saving …", true);
    queue = queue.then(async () => {
      if (fields.has("expected")) fields.set("expected", page().dataset.sequence);
      const answer = await fetch(action, { method: "POST", body: new URLSearchParams(fields) });
      waiting -= 1;
      if ((answer.headers.get("content-type") || "").startsWith("text/html")) show(await answer.text(), answer.url);
      else saved("Not saved: " + (await answer.text()).slice(0, 120));
    }).catch(() => { waiting -= 1; saved("Not saved: the bench page does not answer"); });
  }

  function show(text, url) {
    const fresh = new DOMParser().parseFromString(text, "text/html");
    const old = page(), made = fresh.getElementById("page");
    const active = document.activeElement, at = active && active.id;
    const caret = active && active.matches("input:not([type=range]),textarea") ? [active.selectionStart, active.selectionEnd] : null;
    const open = new Map([...old.querySelectorAll("details[id]")].map((entry) => [entry.id, entry.open]));
    const kept = [...unsaved].map((name) => [name, old.querySelector(`[name="${CSS.escape(name)}"]`)?.value]);
    const place = active?.closest("form")?.action;
    old.replaceWith(document.adoptNode(made));
    document.title = fresh.title;
    for (const [id, was] of open) { const entry = document.getElementById(id); if (entry) entry.open = was; }
    for (const [name, value] of kept) {
      const entry = made.querySelector(`[name="${CSS.escape(name)}"]`);
      if (entry && value !== undefined) entry.value = value;
    }
    const again = (at && document.getElementById(at)) ||
      (place && [...made.querySelectorAll("form")].find((form) => form.action === place)?.querySelector("button.strong")) ||
      made.querySelector(".following button");
    if (again && active !== document.body) {
      again.focus({ preventScroll: true });
      if (caret && again.setSelectionRange) again.setSelectionRange(...caret);
    }
    const now = new URL(url);
    if (now.pathname.split("/").length === 4 && !/(undo|redo|tick)$/.test(now.pathname)) history.replaceState(null, "", now);
    if (made.querySelector("main > [role=alert]")) made.querySelector("main > [role=alert]").scrollIntoView({ block: "center" });
    sliders();
    if (waiting) saved("Saving …", true);
  }

  document.addEventListener("submit", (event) => {
    if (!event.target.hasAttribute("data-save")) return;
    event.preventDefault();
    clearTimeout(timer);
    send(event.target, event.submitter);
  });

  // --- drawings that follow what is typed; the newest answer wins
  let asked = 0, shown = 0, busy = 0, wanted = null;
  function follow(form) {
    const main = document.querySelector("main[data-live]");
    if (!main) return;
    const fields = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (name.includes(".") && value !== "") fields.set(name, value);
    wanted = `${main.dataset.live}?${fields}`;
    if (busy < 2) ask();
  }
  async function ask() {
    const url = wanted, mine = ++asked;
    wanted = null;
    busy += 1;
    try {
      const answer = await fetch(url);
      if (answer.ok && mine > shown) {
        shown = mine;
        const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
        for (const id of ["say", "draw", "numbers"]) {
          const old = document.getElementById(id), made = fresh.getElementById(id);
          if (!old || !made) continue;
          for (const entry of old.querySelectorAll("details[open][id]")) made.querySelector("#" + entry.id)?.setAttribute("open", "");
          old.replaceWith(document.adoptNode(made));
        }
        root.dataset.shown = url;
        if (!document.querySelector("main.trying")) saved("Not saved yet", true);
      }
    } catch { /* the next change asks again */ }
    busy -= 1;
    if (wanted && busy < 2) ask();
  }

  document.addEventListener("input", (event) => {
    const input = event.target, form = input.form;
    if (input.dataset.for) {
      const target = document.getElementById(input.dataset.for);
      target.value = String(Number(Number(input.value).toFixed(places(target.dataset.step))));
      unsaved.add(target.name);
      later(target, 700);
    } else if (input.name) unsaved.add(input.name);
    sliders();
    if (form && (form.hasAttribute("data-follow") || form.hasAttribute("data-try") || form.hasAttribute("data-auto"))) follow(form);
  });
  document.addEventListener("change", (event) => { if (!event.target.dataset.for) later(event.target, 0); });

  document.addEventListener("click", (event) => {
    const button = event.target.closest("button[data-by]");
    if (button) step(button.parentElement.querySelector("input"), Number(button.dataset.by));
    const copy = event.target.closest("button[data-copy]");
    if (copy) {
      const text = document.getElementById(copy.dataset.copy);
      text.select();
      const done = () => { copy.textContent = "Copied"; };
      if (navigator.clipboard) navigator.clipboard.writeText(text.value).then(done, () => document.execCommand("copy") && done());
      else if (document.execCommand("copy")) done();
    }
  });

  document.addEventListener("keydown", (event) => {
    const input = event.target;
    if (input.dataset && input.dataset.step && (event.key === "ArrowUp" || event.key === "ArrowDown")) {
      event.preventDefault();
      step(input, (event.key === "ArrowUp" ? 1 : -1) * Number(input.dataset.step) * (event.shiftKey ? 10 : 1));
      return;
    }
    const typing = input.matches && input.matches("input:not([type=range]),textarea,select");
    if ((event.ctrlKey || event.metaKey) && event.key.toLowerCase() === "z" && !typing) press(event, event.shiftKey ? "redo" : "undo");
    else if (event.altKey && event.code === "KeyN") press(event, "next");
    else if (event.altKey && event.code === "KeyB") press(event, "previous");
    else if (event.altKey && event.code === "KeyW") press(event, "whatif");
  });
  function press(event, id) {
    const target = document.getElementById(id);
    if (!target) return;
    event.preventDefault();
    target.click();
  }

  // --- what another bench wrote meanwhile
  setInterval(async () => {
    const { job, sequence } = page().dataset;
    if (!job || document.hidden || waiting) return;
    try {
      const news = await (await fetch(`/jobs/${job}/sequence?after=${sequence}`)).json();
      const place = document.getElementById("elsewhere");
      if (!place || waiting || news.sequence <= Number(page().dataset.sequence) || page().dataset.sequence !== sequence) return;
      place.textContent = `The other bench wrote: ${news.newer.join("; ")}. `;
      const link = document.createElement("a");
      link.href = location.pathname;
      link.textContent = "Show it";
      place.append(link);
      place.hidden = false;
    } catch { saved("The bench page does not answer"); }
  }, 5000);

  const code = document.getElementById("code");
  if (code && location.hash.length > 1) { code.value = decodeURIComponent(location.hash.slice(1)); history.replaceState(null, "", "/pair"); }
  sliders();
})();
