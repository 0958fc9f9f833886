(function () {
  "use strict";
  var ticks = Array.prototype.slice.call(document.querySelectorAll("[data-tick]"));
  function stored(change) {
    try {
      var key = "deskmend " + document.title;
      var kept = JSON.parse(window.localStorage.getItem(key) || "{}");
      if (change) { change(kept); window.localStorage.setItem(key, JSON.stringify(kept)); }
      return kept;
    } catch (error) {
      // a browser that keeps nothing for files: boxes serve until the page is closed
      return null;
    }
  }
  function tick(kept) {
    ticks.forEach(function (box) { box.checked = kept[box.getAttribute("data-tick")] === true; });
  }
  ticks.forEach(function (box) {
    box.addEventListener("change", function () {
      var name = box.getAttribute("data-tick");
      ticks.forEach(function (other) {
        if (other.getAttribute("data-tick") === name) { other.checked = box.checked; }
      });
      stored(function (kept) { if (box.checked) { kept[name] = true; } else { delete kept[name]; } });
    });
  });
  tick(stored() || {});
  var slider = document.getElementById("money");
  var chooser = document.getElementById("chooser");
  if (!slider || !chooser) { return; }
  var parts = Array.prototype.slice.call(document.querySelectorAll("[data-rungs]"));
  var names = Array.prototype.slice.call(document.querySelectorAll("#money-name > span"));
  function show() {
    var chosen = slider.value;
    parts.forEach(function (part) {
      part.hidden = part.getAttribute("data-rungs").split(" ").indexOf(chosen) < 0;
    });
    names.forEach(function (name) {
      if (!name.hidden) { slider.setAttribute("aria-valuetext", name.textContent.trim()); }
    });
  }
  slider.addEventListener("input", show);
  slider.addEventListener("change", show);
  chooser.hidden = slider.max === "0";
  document.getElementById("money-help").hidden = chooser.hidden;
  document.getElementById("budgets").open = false;
  var opened = [];
  window.addEventListener("beforeprint", function () {
    opened = Array.prototype.filter.call(document.querySelectorAll("details:not([open])"), function (one) {
      return !one.hasAttribute("data-folded");
    });
    opened.forEach(function (one) { one.open = true; });
  });
  window.addEventListener("afterprint", function () {
    opened.forEach(function (one) { one.open = false; });
  });
  show();
}());
