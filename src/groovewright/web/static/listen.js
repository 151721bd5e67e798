// What the listen pages can do beyond forms and links: a bar while a file is handed in, bands and drawing as they
// are found, one band playing at a time and quietly. No code from outside, nothing evaluated.
"use strict";
(() => {
  const every = 700;

  // --- handing in: the size is checked before anything is sent, and the bar shows how far it is
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (!form.hasAttribute("data-upload")) return;
    event.preventDefault();
    const file = form.querySelector("input[type=file]").files[0];
    const said = form.querySelector("[role=status]"), bar = form.querySelector("progress"), button = form.querySelector("button");
    const tell = (text) => { said.textContent = text; said.hidden = !text; };
    if (!file) return tell("Choose a recording first.");
    if (file.size > Number(form.dataset.largest)) return tell("The file is larger than what can be handed in. Put it into the folder of recordings instead (serve --recordings).");
    const sent = new XMLHttpRequest();
    const over = (text) => { tell(text); bar.hidden = true; button.disabled = false; };
    sent.upload.addEventListener("progress", (now) => {
      if (!now.lengthComputable) return;
      bar.value = 100 * now.loaded / now.total;
      tell(`Handed in: ${Math.floor(bar.value)} %. Leave this page open.`);
    });
    sent.addEventListener("load", () => {
      if (sent.status < 400) { location.assign(sent.responseURL); return; }
      const page = new DOMParser().parseFromString(sent.responseText, "text/html");
      over([...page.querySelectorAll("main p:not(.links)")].map((entry) => entry.textContent.trim()).join(" ") || sent.responseText.slice(0, 200));
    });
    sent.addEventListener("error", () => over("Not handed in: the bench page does not answer. Nothing was kept; send it again."));
    sent.open("POST", form.action);
    bar.hidden = false; bar.value = 0; button.disabled = true;
    tell("Handing in …");
    sent.send(new FormData(form));
  });

  // --- what is found, as it is found
  const main = document.querySelector("main[data-listening]");
  const playing = () => [...document.querySelectorAll("audio")].some((sound) => !sound.paused);
  async function look() {
    let wait = every;
    try {
      const answer = await fetch(main.dataset.listening);
      if (!answer.ok) return;
      const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
      const over = !fresh.getElementById("progress").dataset.atWork;
      if (over && !playing()) { location.reload(); return; }
      change("say", fresh);
      change("draw", fresh);
      const progress = document.getElementById("progress"), now = fresh.getElementById("progress");
      if (over) {
        const link = document.createElement("a");
        link.href = location.pathname;
        link.className = "button strong";
        link.textContent = "Show what it proves";
        progress.replaceChildren(link);
        return;
      }
      progress.querySelector("label").textContent = now.querySelector("label").textContent;
      progress.querySelector("progress").value = now.querySelector("progress").value;
      const list = document.getElementById("found");
      for (const band of [...fresh.querySelectorAll("#found > li")]) {
        if (!document.getElementById(band.id)) list.append(document.adoptNode(band));
      }
      if (list.children.length) document.getElementById("no-bands")?.remove();
    } catch { wait = 3000; }
    setTimeout(look, wait);
  }
  function change(id, fresh) {
    const old = document.getElementById(id), made = fresh.getElementById(id);
    if (old && made && old.innerHTML !== made.innerHTML) old.replaceChildren(...made.childNodes);
  }
  if (main) setTimeout(look, every);

  // --- one band at a time, quietly at first
  document.addEventListener("play", (event) => {
    for (const other of document.querySelectorAll("audio")) if (other !== event.target) other.pause();
    if (!event.target.dataset.begun) { event.target.dataset.begun = "yes"; event.target.volume = 0.5; }
  }, true);
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[data-louder]");
    if (!link) return;
    event.preventDefault();
    const sound = link.closest("details").querySelector("audio");
    sound.pause();
    sound.src = link.href;
    sound.setAttribute("aria-label", sound.getAttribute("aria-label").replace("quiet", "louder"));
    link.remove();
  });
})();
