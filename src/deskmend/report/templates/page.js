(function () {
  "use strict";
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
