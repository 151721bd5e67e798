"use strict";
(function () {
  var form = document.getElementById("readings"), out = document.getElementById("text");
  var copy = document.getElementById("copy"), sheet = form.dataset.sheet;
  var points = form.dataset.points.split(" ");
  form.hidden = false;
  function chosen(name) {
    var input = form.querySelector('input[name="' + name + '"]:checked');
    return input ? input.value : "";
  }
  // what is said of one point, and the same for the check number: whole tenths of a degree, or the word
  function reading(point) {
    var word = chosen(point), typed = form.elements[point + "-degrees"].value;
    if (!word) { return null; }
    if (word === "square" || typed === "") { return { say: word.replace("-", " "), key: word }; }
    var tenths = Math.floor(Math.abs(Number(typed)) * 10 + 0.5);
    var way = /out$/.test(word) ? "out" : "in";
    if (!isFinite(tenths) || tenths === 0) { return { say: word.replace("-", " "), key: word }; }
    return { say: way + " " + (tenths / 10).toFixed(1) + " degrees", key: String(way === "in" ? tenths : -tenths) };
  }
  function compose() {
    var parts = [], keys = [sheet], missing = [];
    if (sheet) { parts.push("Sheet " + sheet.replace(",", " and ") + "."); }
    ["outer", "inner"].forEach(function (point) {
      if (points.indexOf(point) < 0) { keys.push(""); return; }
      var said = reading(point);
      if (!said) { missing.push(point); return; }
      parts.push((point === "outer" ? "Outer" : "Inner") + " point: " + said.say + ".");
      keys.push(said.key);
    });
    var moved = chosen("moved");
    keys.push(moved ? moved.charAt(0) : "");
    if (moved) { parts.push("Moved as told: " + moved + "."); }
    if (missing.length) {
      out.textContent = "Choose what you see at the " + missing.join(" and the ") + " point.";
      copy.hidden = true;
      return;
    }
    var canonical = keys.join("/"), sum = 0;
    for (var i = 0; i < canonical.length; i++) { sum += (i + 1) * canonical.charCodeAt(i); }
    var check = String(sum % 97);
    out.textContent = parts.join(" ") + " Check " + (check.length < 2 ? "0" + check : check) + ".";
    copy.hidden = !(navigator.clipboard && navigator.clipboard.writeText);
  }
  form.addEventListener("input", compose);
  form.addEventListener("submit", function (event) { event.preventDefault(); });
  copy.addEventListener("click", function () {
    navigator.clipboard.writeText(out.textContent).then(
      function () { copy.textContent = "Copied"; },
      function () { copy.hidden = true; }
    );
  });
  compose();
})();
