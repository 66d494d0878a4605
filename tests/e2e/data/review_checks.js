/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a browser can measure of the review page; each check answers with a list of what is wrong.
   Contrast: WCAG 2.2, relative luminance and contrast ratio (glossary), 1.4.3 (text 4.5, large 3)
   and 1.4.11 (shapes and lines 3). Colour blindness: Machado, Oliveira, Fernandes 2009, severity
   1.0 (matrices from memory), distance in CIELAB (CIE 1976). */
"use strict";
var checks = {};

checks.rgb = function (text) {
  var m = /rgba?\(([^)]*)\)/.exec(text), p = m ? m[1].split(/[ ,/]+/).map(Number) : [0, 0, 0, 0];
  return {c: p.slice(0, 3), alpha: p.length > 3 ? p[3] : 1};
};
checks.linear = function (c) {
  return c.map(function (v) {
    v /= 255;
    return v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4);
  });
};
checks.ratio = function (a, b) {
  function luminance(c) {
    var l = checks.linear(c);
    return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2];
  }
  var x = luminance(a), y = luminance(b);
  return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
};
checks.ground = function (element) {
  for (var e = element; e; e = e.parentElement) {
    var back = checks.rgb(getComputedStyle(e).backgroundColor);
    if (back.alpha > 0.99) return back.c;
  }
  return [255, 255, 255];
};
checks.seen = function (element) {
  var box = element.getBoundingClientRect();
  return box.width > 1 && box.height > 1 && getComputedStyle(element).visibility === "visible";
};

checks.contrast = function () {
  var wrong = [];
  document.querySelectorAll("body *").forEach(function (e) {
    var own = Array.from(e.childNodes).some(function (n) {
      return n.nodeType === 3 && n.data.trim() !== "";
    });
    if (!own || !checks.seen(e) || e.closest("script,style,#live")) return;
    var style = getComputedStyle(e), size = parseFloat(style.fontSize);
    var large = size >= 24 || (size >= 18.66 && parseInt(style.fontWeight, 10) >= 700);
    var on = e.classList.contains("grade") ?
      checks.rgb(getComputedStyle(document.querySelector(".land")).fill).c : checks.ground(e);
    var ratio = checks.ratio(checks.rgb(style.color).c, on);
    if (ratio < (large ? 3 : 4.5))
      wrong.push(ratio.toFixed(2) + " " + e.className + " " + e.textContent.slice(0, 30));
  });
  var paper = checks.ground(document.body);
  [[".shape", "color"], ["path.ran", "stroke"], ["path.target", "stroke"],
   ["path.posted", "stroke"], ["path.release", "stroke"], ["path.likely", "stroke"],
   ["path.limit", "stroke"], ["path.band", "stroke"], ["path.land", "stroke"],
   [".play path", "fill"]].forEach(function (kind) {
    document.querySelectorAll(kind[0]).forEach(function (e) {
      var ratio = checks.ratio(checks.rgb(getComputedStyle(e)[kind[1]]).c, paper);
      if (ratio < 3) wrong.push(ratio.toFixed(2) + " " + kind[0] + " " + e.className.baseVal);
    });
  });
  var band = checks.rgb(getComputedStyle(document.querySelector("path.band")).fill).c;
  var line = checks.rgb(getComputedStyle(document.querySelector("path.likely")).stroke).c;
  if (checks.ratio(band, line) < 3) wrong.push("likely on its band");
  return Array.from(new Set(wrong));
};

/* Least distance of two categories' colours to people of any colour vision. */
checks.apart = function () {
  var eyes = {
    usual: [[1, 0, 0], [0, 1, 0], [0, 0, 1]],
    protan: [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216],
             [-0.003882, -0.048116, 1.051998]],
    deutan: [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413],
             [-0.011820, 0.042940, 0.968881]],
    tritan: [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602],
             [0.004733, 0.691367, 0.303900]]
  };
  function times(m, v) {
    return m.map(function (r) { return r[0] * v[0] + r[1] * v[1] + r[2] * v[2]; });
  }
  function lab(l) {
    var xyz = times([[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750],
                     [0.0193339, 0.1191920, 0.9503041]],
                    l.map(function (v) { return Math.min(1, Math.max(0, v)); }));
    var f = [xyz[0] / 0.95047, xyz[1], xyz[2] / 1.08883].map(function (t) {
      return t > 0.008856 ? Math.cbrt(t) : 7.787 * t + 16 / 116;
    });
    return [116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])];
  }
  var style = getComputedStyle(document.documentElement), least = 1e9;
  var colours = ["danger", "warning", "caution", "advice", "notice"].map(function (name) {
    var hex = style.getPropertyValue("--" + name).trim();
    return [1, 3, 5].map(function (i) { return parseInt(hex.slice(i, i + 2), 16); });
  });
  Object.keys(eyes).forEach(function (eye) {
    var seen = colours.map(function (c) { return lab(times(eyes[eye], checks.linear(c))); });
    for (var i = 0; i < seen.length; i++)
      for (var k = 0; k < i; k++)
        least = Math.min(least, Math.hypot(seen[i][0] - seen[k][0], seen[i][1] - seen[k][1],
                                           seen[i][2] - seen[k][2]));
  });
  return least;
};

/* Marks and figures that lie on one another, and whatever sticks out of the window. */
checks.layout = function () {
  var wrong = [], width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > width)
    wrong.push("scrolls sideways: " + document.documentElement.scrollWidth + " over " + width);
  document.querySelectorAll(".plot").forEach(function (plot) {
    var all = Array.from(plot.querySelectorAll(".mark,.y,.tick,.boundname,.grade"));
    var boxes = all.filter(checks.seen).map(function (e) {
      var r = e.getBoundingClientRect();
      return {e: e, l: r.left, r: r.right, t: r.top, b: r.bottom};
    });
    boxes.forEach(function (a, i) {
      if (a.l < -0.5 || a.r > width + 0.5)
        wrong.push("out of the window: " + a.e.className + " " + a.e.textContent);
      boxes.slice(i + 1).forEach(function (b) {
        if (a.l < b.r - 0.5 && b.l < a.r - 0.5 && a.t < b.b - 0.5 && b.t < a.b - 0.5)
          wrong.push(a.e.className + " " + a.e.textContent + " lies on " + b.e.className + " " +
                     b.e.textContent);
      });
    });
  });
  document.querySelectorAll("td,th,dd,dt,p,h1,h2,h3,.name").forEach(function (e) {
    if (checks.seen(e) && !e.closest("thead,#live") && e.scrollWidth > e.clientWidth + 1 &&
        getComputedStyle(e).display !== "inline")
      wrong.push("words stick out: " + e.tagName + " " + e.textContent.slice(0, 40));
  });
  return Array.from(new Set(wrong)).slice(0, 20);
};

/* What a screen reader needs. */
checks.names = function () {
  var wrong = [], ids = {};
  if (document.documentElement.lang !== "en") wrong.push("no language");
  if (document.title.length < 5) wrong.push("no title");
  document.querySelectorAll("button").forEach(function (e) {
    if (!(e.getAttribute("aria-label") || e.textContent.trim())) wrong.push("a button without name");
  });
  document.querySelectorAll("[role=img]").forEach(function (e) {
    if (!e.getAttribute("aria-label")) wrong.push("a picture without name: " + e.className);
  });
  document.querySelectorAll("svg").forEach(function (e) {
    if (e.getAttribute("aria-hidden") !== "true" && !e.closest(".key"))
      wrong.push("a drawing that is neither named nor hidden");
  });
  document.querySelectorAll("[id]").forEach(function (e) {
    if (ids[e.id]) wrong.push("twice: " + e.id);
    ids[e.id] = true;
  });
  document.querySelectorAll("[aria-labelledby]").forEach(function (e) {
    if (!ids[e.getAttribute("aria-labelledby")]) wrong.push("named by nothing");
  });
  document.querySelectorAll("table").forEach(function (t) {
    if (!t.querySelector("th[scope]")) wrong.push("a table without heads");
  });
  return wrong;
};

/* Seconds of each clip as the browser decodes it. */
checks.sounds = function () {
  return Promise.all(Array.from(document.querySelectorAll("audio")).map(function (a) {
    return fetchless(a.src).then(function (bytes) {
      return new OfflineAudioContext(1, 1, 24000).decodeAudioData(bytes);
    }).then(function (sound) {
      var peak = 0;
      sound.getChannelData(0).forEach(function (v) { peak = Math.max(peak, Math.abs(v)); });
      return [sound.duration, peak];
    });
  }));
  /* The page's policy forbids fetch(), of data too: the bytes are taken from the address. */
  function fetchless(src) {
    var text = atob(src.split(",")[1]), bytes = new Uint8Array(text.length);
    for (var i = 0; i < text.length; i++) bytes[i] = text.charCodeAt(i);
    return Promise.resolve(bytes.buffer);
  }
};
