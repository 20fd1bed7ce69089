// Moves between stations and rule sets, and tells what is pointed at. Everything shown is in the
// page already: this only hides, marks and copies text, never makes markup.
(function () {
  "use strict";
  var root = document.getElementById("viewer");
  if (!root) return;
  var slider = document.getElementById("station");
  var shown = document.getElementById("station-shown");
  var rules = document.getElementById("rules");
  var stations = Array.from(root.querySelectorAll(".station"));
  var buttons = Array.from(root.querySelectorAll(".found button"));
  var marked = "";
  var pinned = "";

  function all(selector, act) {
    root.querySelectorAll(selector).forEach(act);
  }
  function say(part, text) {
    root.querySelector(".readout ." + part).textContent = text;
  }
  function current() {
    return stations[Number(slider.value)];
  }
  function family(line) {
    return line.indexOf("WAD") === 0 ? "WAD" : line;
  }
  function mark(line) {
    all(".on[data-line]", function (each) { each.classList.remove("on"); });
    if (!line) return;
    var found = null;
    current().querySelectorAll("[data-line]").forEach(function (each) {
      if (each.getAttribute("data-line") !== line || each.closest("[hidden]")) return;
      each.classList.add("on");
      if (each.classList.contains("mark")) found = each;
    });
    if (!found) {
      say("name", line);
      say("value", "Could not be formed at this station.");
      say("status", "");
    } else {
      say("name", found.getAttribute("data-name"));
      say("value", found.getAttribute("data-value"));
      say("status", "Status " + found.getAttribute("data-status"));
    }
    var source = root.querySelector(
      '.sources [data-rules="' + rules.value + '"][data-of="' + family(line) + '"]');
    say("source", source ? "By " + source.textContent : "");
  }
  function region(number) {
    marked = number;
    buttons.forEach(function (each) {
      each.setAttribute("aria-pressed", String(each.dataset.finding === number));
    });
    all(".band", function (each) {
      each.classList.toggle("on", each.getAttribute("data-finding") === number);
    });
  }
  function draw() {
    var index = Number(slider.value);
    stations.forEach(function (each, i) { each.hidden = i !== index; });
    var words = "y = " + stations[index].dataset.y + " mm";
    shown.textContent = words;
    slider.setAttribute("aria-valuetext", words);
    all("[data-rules-any]", function (each) {
      var sets = each.getAttribute("data-rules-any").split(" ");
      each.toggleAttribute("hidden", sets.indexOf(rules.value) < 0);
    });
    mark(pinned);
  }

  document.documentElement.classList.add("js");
  document.querySelectorAll(".js-only").forEach(function (each) { each.hidden = false; });
  slider.addEventListener("input", draw);
  rules.addEventListener("change", draw);
  root.addEventListener("focusin", function (event) {
    var line = event.target.closest && event.target.closest(".mark");
    if (line) { pinned = line.getAttribute("data-line"); mark(pinned); }
  });
  root.addEventListener("click", function (event) {
    var line = event.target.closest("[data-line]");
    if (line) { pinned = line.getAttribute("data-line"); mark(pinned); }
  });
  root.addEventListener("pointerover", function (event) {
    var line = event.target.closest("[data-line]");
    if (line) mark(line.getAttribute("data-line"));
  });
  root.addEventListener("pointerout", function (event) {
    if (event.target.closest("[data-line]")) mark(pinned);
  });
  buttons.forEach(function (each) {
    each.addEventListener("click", function () {
      var number = each.dataset.finding;
      if (marked === number) { region(""); return; }
      slider.value = each.dataset.station; // where it is clearest
      region(number);
      draw();
    });
  });
  draw();
})();
