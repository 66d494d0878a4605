/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Choosing a mark chooses its row and back; arrow keys move; Enter plays. The page reads whole
   without any of it. */
"use strict";
(function () {
  var playing = null;
  var live = document.getElementById("live");

  function rowsOf(row) {
    return Array.from(row.parentNode.rows);
  }

  function markOf(row) {
    return document.getElementById(row.dataset.mark);
  }

  /* A line through all rows of the strip where the prompt was issued. */
  function point(row) {
    var strip = row.closest("article").querySelector(".strip"), mark = markOf(row);
    strip.classList.toggle("chosen", Boolean(mark));
    if (mark) strip.style.setProperty("--at", mark.style.left);
  }

  function choose(row, how) {
    var rows = rowsOf(row);
    point(row);
    rows.forEach(function (other) {
      var chosen = other === row, mark = markOf(other);
      other.setAttribute("aria-selected", chosen ? "true" : "false");
      other.tabIndex = chosen ? 0 : -1;
      if (mark) {
        mark.setAttribute("aria-pressed", chosen ? "true" : "false");
        mark.tabIndex = chosen ? 0 : -1;
      }
    });
    if (how === "row") {
      row.focus({preventScroll: true});
      row.scrollIntoView({block: "nearest"});
    } else if (how === "mark") {
      if (markOf(row)) markOf(row).focus({preventScroll: true});
      row.scrollIntoView({block: "nearest"});
    }
  }

  function stop() {
    if (!playing) return;
    playing.sound.pause();
    playing.sound.onended = null;
    playing.button.classList.remove("playing");
    playing = null;
  }

  function play(row) {
    var button = row.querySelector(".play");
    var same = playing && playing.button === button;
    stop();
    if (!button || same) return;
    var sound = document.getElementById(button.dataset.clip);
    playing = {sound: sound, button: button};
    button.classList.add("playing");
    sound.currentTime = 0;
    sound.onended = stop;
    sound.play().catch(function (why) {
      stop();
      live.textContent = "This browser does not play the sound: " + why.message;
    });
  }

  function move(row, key) {
    var rows = rowsOf(row), at = rows.indexOf(row);
    var to = key === "Home" ? 0 : key === "End" ? rows.length - 1
           : key === "ArrowDown" || key === "ArrowRight" ? at + 1 : at - 1;
    return rows[Math.max(0, Math.min(rows.length - 1, to))];
  }

  function moveMark(row, key) {
    var rows = rowsOf(row), to = row, last = key === "End" || key === "Home" ? key : null;
    for (;;) {
      var next = move(to, last || key);
      if (markOf(next)) return next;
      if (next === to) return row;
      if (last) key = last === "Home" ? "ArrowRight" : "ArrowLeft";
      last = null;
      to = next;
      if (rows.indexOf(to) < 0) return row;
    }
  }

  document.querySelectorAll(".list").forEach(function (table) {
    table.addEventListener("click", function (event) {
      var row = event.target.closest("tbody tr");
      if (!row) return;
      choose(row, "row");
      if (event.target.closest(".play")) play(row);
    });
    table.addEventListener("keydown", function (event) {
      var row = event.target.closest("tbody tr");
      if (!row || event.altKey || event.ctrlKey || event.metaKey) return;
      if (/^(ArrowUp|ArrowDown|Home|End)$/.test(event.key)) choose(move(row, event.key), "row");
      else if (event.key === "Enter" || event.key === " ") play(row);
      else return;
      event.preventDefault();
    });
  });

  document.querySelectorAll(".prompts").forEach(function (group) {
    var first = group.querySelector(".prompt");
    if (first) first.tabIndex = 0;
    group.addEventListener("click", function (event) {
      var mark = event.target.closest(".prompt");
      if (mark) choose(document.getElementById(mark.dataset.row), "mark");
    });
    group.addEventListener("keydown", function (event) {
      var mark = event.target.closest(".prompt");
      if (!mark || event.altKey || event.ctrlKey || event.metaKey) return;
      var row = document.getElementById(mark.dataset.row);
      if (/^(Arrow(Up|Down|Left|Right)|Home|End)$/.test(event.key)) {
        choose(moveMark(row, event.key), "mark");
      } else if (event.key === "Enter") {
        choose(row, "mark");
        play(row);
      } else {
        return;
      }
      event.preventDefault();
    });
  });
})();
