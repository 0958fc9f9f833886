(function () {
  "use strict";
  function all(selector) { return Array.prototype.slice.call(document.querySelectorAll(selector)); }
  var ticks = all("[data-tick]");
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
  var bundles = all("[data-ticks]");
  function parts(bundle) {
    var names = bundle.getAttribute("data-ticks").split("|");
    return ticks.filter(function (box) { return names.indexOf(box.getAttribute("data-tick")) >= 0; });
  }
  function together() {
    bundles.forEach(function (bundle) {
      bundle.checked = parts(bundle).every(function (box) { return box.checked; });
    });
  }
  function tick(kept) {
    ticks.forEach(function (box) { box.checked = kept[box.getAttribute("data-tick")] === true; });
    together();
  }
  function set(name, checked) {
    ticks.forEach(function (box) {
      if (box.getAttribute("data-tick") === name) { box.checked = checked; }
    });
    stored(function (kept) { if (checked) { kept[name] = true; } else { delete kept[name]; } });
    together();
  }
  ticks.forEach(function (box) {
    box.addEventListener("change", function () { set(box.getAttribute("data-tick"), box.checked); });
  });
  bundles.forEach(function (bundle) {
    bundle.addEventListener("change", function () {
      var checked = bundle.checked;
      bundle.getAttribute("data-ticks").split("|").forEach(function (name) { set(name, checked); });
    });
  });
  all(".done input").forEach(function (box) {
    var said = document.querySelector("main").getAttribute("data-done");
    var row = box.closest("li");
    said = said.replace("{step}", row.querySelector("b").textContent);
    box.setAttribute("aria-label", said.replace("{left}", box.nextElementSibling.textContent));
  });
  tick(stored() || {});

  var hows = all(".how");
  function card(how) { return document.getElementById(how.getAttribute("href").slice(1)); }
  function sheet(row) {
    // In print each step has its short text and its cautions beside it; they are those of its card.
    var how = row.querySelector(".how"), of = card(how), ask = row.querySelector("strong");
    if (row.querySelector(".sheet") || !of) { return; }
    var text = document.createElement("p");
    text.className = "sheet";
    text.textContent = of.querySelector(".short").textContent;
    Array.prototype.forEach.call(of.querySelectorAll(".mind"), function (mind) {
      var said = mind.textContent.replace(/^! /, "");
      if (ask && said === ask.textContent) { return; }
      var mark = document.createElement("b");
      mark.textContent = "!";
      text.append(" ", mark, " " + said);
    });
    how.parentNode.appendChild(text);
  }
  function fold(how) {
    // What is opened at a step goes back to the list of all steps, which is what prints.
    var of = card(how);
    document.querySelector('[data-card="' + of.id + '"]').appendChild(of);
    how.setAttribute("aria-expanded", "false");
  }
  function foldAll() {
    hows.forEach(function (how) { if (how.getAttribute("aria-expanded") === "true") { fold(how); } });
  }
  function open(how) {
    var of = card(how);
    hows.forEach(function (other) {
      if (other.getAttribute("aria-expanded") === "true" && card(other) === of) { fold(other); }
    });
    how.closest("li").appendChild(of);
    how.setAttribute("aria-expanded", "true");
  }
  if (document.getElementById("steps")) {
    document.documentElement.classList.add("placed");
    hows.forEach(function (how) {
      card(how).parentNode.setAttribute("data-card", card(how).id);
      how.setAttribute("role", "button");
      how.setAttribute("aria-expanded", "false");
      how.addEventListener("click", function (event) {
        event.preventDefault();
        if (how.getAttribute("aria-expanded") === "true") { fold(how); } else { open(how); }
      });
      how.addEventListener("keydown", function (event) {
        if (event.key === " ") { event.preventDefault(); how.click(); }
      });
    });
    // Any other link to a step leads to its row in the plan that is shown, and opens it there.
    all('a[href^="#step-"]:not(.how)').forEach(function (link) {
      link.addEventListener("click", function (event) {
        var row = hows.filter(function (how) {
          return how.getAttribute("href") === link.getAttribute("href") && !how.closest("[hidden]");
        })[0];
        if (!row) { return; }
        event.preventDefault();
        var bundle = row.closest("details");
        if (bundle) { bundle.open = true; }
        if (row.getAttribute("aria-expanded") !== "true") { open(row); }
        row.focus();
        row.scrollIntoView({block: "center"});
      });
    });
  }
  // Under an emergency all but the warning is folded; a link into it opens it.
  var waits = document.getElementById("waits");
  if (waits) {
    all('a[href^="#"]').forEach(function (link) {
      link.addEventListener("click", function () { waits.open = true; });
    });
  }
  var slider = document.getElementById("money");
  var shown = all("[data-rungs]");
  var names = all("#money-name > span");
  function show() {
    foldAll();
    var chosen = slider ? slider.value : null;
    if (slider) {
      shown.forEach(function (part) {
        // not by the property: what is drawn has none
        part.toggleAttribute("hidden", part.getAttribute("data-rungs").split(" ").indexOf(chosen) < 0);
      });
    }
    names.forEach(function (name) {
      if (!name.hidden) { slider.setAttribute("aria-valuetext", name.textContent.trim()); }
    });
    all(".rung:not([hidden]) li:not(.bundle)").forEach(function (row) {
      if (row.querySelector(".how")) { sheet(row); }
    });
  }
  if (slider) {
    slider.addEventListener("input", show);
    slider.addEventListener("change", show);
    document.getElementById("chooser").hidden = false;
    document.getElementById("money-help").hidden = false;
  }
  var budgets = document.getElementById("budgets");
  if (budgets) { budgets.open = false; }
  var opened = [];
  window.addEventListener("beforeprint", function () {
    foldAll();
    opened = all("details:not([open])").filter(function (one) { return !one.hasAttribute("data-folded"); });
    opened.forEach(function (one) { one.open = true; });
  });
  window.addEventListener("afterprint", function () {
    opened.forEach(function (one) { one.open = false; });
  });
  show();
}());
