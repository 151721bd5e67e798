// Marking a line on a photo: two handles for thumb, mouse and arrow keys, with a magnifier beside them.
// The ends stand in the form's number fields, which work by themselves too.
"use strict";
(() => {
  const SVG = "http://www.w3.org/2000/svg";
  const MAGNIFIED = 4;

  for (const form of document.querySelectorAll("form[data-mark]")) {
    const figure = document.querySelector(`figure[data-photo="${form.dataset.mark}"]`);
    if (figure) begin(form, figure);
  }

  function begin(form, figure) {
    const image = figure.querySelector("img");
    // what the picture shows of the photo, in the photo's own pixels
    const [left, top, right, bottom] = figure.dataset.frame.split(",").map(Number);
    const width = right - left, height = bottom - top;
    const fields = ["x1", "y1", "x2", "y2"].map((name) => form.elements[name]);
    const overlay = document.createElementNS(SVG, "svg");
    overlay.setAttribute("viewBox", `${left} ${top} ${width} ${height}`);
    overlay.setAttribute("aria-hidden", "true");
    const line = document.createElementNS(SVG, "line");
    overlay.append(line);
    const loupe = document.createElement("canvas");
    loupe.className = "loupe";
    loupe.width = loupe.height = 288;
    loupe.hidden = true;
    const handles = ["One end of the line", "Other end of the line"].map((words, k) => {
      const handle = document.createElement("button");
      handle.type = "button";
      handle.className = "handle";
      handle.setAttribute("aria-label", `${words}: move it with the arrow keys`);
      handle.addEventListener("pointerdown", (event) => { event.preventDefault(); handle.focus(); handle.setPointerCapture(event.pointerId); });
      handle.addEventListener("pointermove", (event) => { if (handle.hasPointerCapture(event.pointerId)) drag(k, event); });
      for (const name of ["pointerup", "pointercancel", "blur"]) handle.addEventListener(name, () => { loupe.hidden = true; });
      handle.addEventListener("keydown", (event) => {
        const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
        if (!way) return;
        event.preventDefault();
        const by = event.shiftKey ? 25 : 2, at = end(k);
        put(k, at[0] + by * way[0], at[1] + by * way[1]);
        look(k);
      });
      return handle;
    });
    figure.append(overlay, ...handles, loupe);

    const end = (k) => [Number(fields[2 * k].value), Number(fields[2 * k + 1].value)];
    function put(k, x, y) {
      fields[2 * k].value = Math.min(right, Math.max(left, x)).toFixed(1);
      fields[2 * k + 1].value = Math.min(bottom, Math.max(top, y)).toFixed(1);
      draw();
    }
    function draw() {
      const open = form.closest("details").open && fields.every((field) => field.value !== "");
      for (const part of [overlay, ...handles]) part.toggleAttribute("hidden", !open);
      if (!open) return;
      handles.forEach((handle, k) => {
        const [x, y] = end(k);
        handle.style.left = `${(100 * (x - left)) / width}%`;
        handle.style.top = `${(100 * (y - top)) / height}%`;
        line.setAttribute(`x${k + 1}`, x);
        line.setAttribute(`y${k + 1}`, y);
      });
    }
    function drag(k, event) {
      const box = image.getBoundingClientRect();
      put(k, left + ((event.clientX - box.left) / box.width) * width, top + ((event.clientY - box.top) / box.height) * height);
      look(k);
    }
    function look(k) {
      const pen = loupe.getContext("2d"), side = loupe.width;
      const scale = image.naturalWidth / width;
      const inPicture = (point) => [(point[0] - left) * scale, (point[1] - top) * scale], [x, y] = inPicture(end(k));
      const seen = (side / 2 / MAGNIFIED) * Math.max(1, image.naturalWidth / image.clientWidth / 2);
      pen.fillStyle = "#fff";
      pen.fillRect(0, 0, side, side);
      pen.drawImage(image, x - seen / 2, y - seen / 2, seen, seen, 0, 0, side, side);
      pen.strokeStyle = getComputedStyle(line).stroke;
      pen.lineWidth = 2;
      pen.beginPath();
      const [a, b] = [end(0), end(1)].map(inPicture).map(([u, v]) => [side / 2 + ((u - x) / seen) * side, side / 2 + ((v - y) / seen) * side]);
      pen.moveTo(...a);
      pen.lineTo(...b);
      pen.stroke();
      loupe.hidden = false;
      loupe.classList.toggle("right", x < image.naturalWidth / 2);
    }
    function start() {
      if (fields.every((field) => field.value === "")) {
        put(0, left + 0.5 * width, top + 0.4 * height);
        put(1, left + 0.5 * width, top + 0.6 * height);
      }
      draw();
    }
    for (const field of fields) field.addEventListener("input", draw);
    form.closest("details").addEventListener("toggle", () => (form.closest("details").open ? start() : draw()));
    draw();
    if (form.closest("details").open) start();
  }

  for (const form of document.querySelectorAll("form[data-camera]")) {
    const file = form.querySelector("input[type=file]");
    form.querySelector("[data-choose]")?.addEventListener("click", () => { file.removeAttribute("capture"); file.click(); });
    file.addEventListener("change", () => {
      if (!file.files.length) return;
      const button = form.querySelector("button:not([type=button])");
      button.textContent = "Reading …";
      form.requestSubmit();
    });
  }
})();
