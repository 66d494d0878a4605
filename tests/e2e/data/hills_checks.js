/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a browser can measure of the page of hills; each check answers with a list of what is wrong.
   Contrast: WCAG 2.2, 1.4.3 (text 4.5) and 1.4.11 (shapes and lines 3). */
"use strict";
var checks = {};

checks.rgb = function (text) {
  var m = /rgba?\(([^)]*)\)/.exec(text);
  return m ? m[1].split(/[ ,/]+/).map(Number).slice(0, 3) : null;
};
checks.luminance = function (c) {
  var l = c.map(function (v) {
    v /= 255;
    return v <= 0.04045 ? v / 12.92 : Math.pow((v + 0.055) / 1.055, 2.4);
  });
  return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2];
};
checks.ratio = function (a, b) {
  var x = checks.luminance(a), y = checks.luminance(b);
  return (Math.max(x, y) + 0.05) / (Math.min(x, y) + 0.05);
};
checks.box = function (e) {
  var r = e.getBoundingClientRect();
  return {l: r.left, r: r.right, t: r.top, b: r.bottom};
};

/* Nothing over the window's edge, nothing out of its picture, no text on another, none too small. */
checks.layout = function () {
  var wrong = [], width = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > width)
    wrong.push("scrolls sideways: " + document.documentElement.scrollWidth + " over " + width);
  document.querySelectorAll(".hill").forEach(function (card) {
    card.style.contentVisibility = "visible";
    var frame = checks.box(card);
    if (frame.l < 0 || frame.r > width) wrong.push("a card out of the window");
    card.querySelectorAll("h2,p,dl,svg").forEach(function (e) {
      var b = checks.box(e);
      if (b.l < frame.l - 0.5 || b.r > frame.r + 0.5 || b.b > frame.b + 0.5)
        wrong.push("out of its card: " + e.tagName + " " + e.textContent.slice(0, 40));
    });
    card.querySelectorAll("svg[role=img]").forEach(function (svg) {
      var view = checks.box(svg), texts = Array.from(svg.querySelectorAll("text"));
      svg.querySelectorAll("text,path,line,circle,rect").forEach(function (e) {
        var b = checks.box(e);
        if (b.l < view.l - 1 || b.r > view.r + 1 || b.t < view.t - 1 || b.b > view.b + 1)
          wrong.push("out of its picture: " + e.outerHTML.slice(0, 60));
      });
      var boxes = texts.map(checks.box);
      texts.forEach(function (e, i) {
        var scale = (view.r - view.l) / 344;
        if (parseFloat(e.getAttribute("font-size")) * scale < 9) wrong.push("too small");
        for (var k = 0; k < i; k++)
          if (boxes[i].l < boxes[k].r - 0.5 && boxes[k].l < boxes[i].r - 0.5 &&
              boxes[i].t < boxes[k].b - 2 && boxes[k].t < boxes[i].b - 2)
            wrong.push(e.textContent + " lies on " + texts[k].textContent);
      });
    });
  });
  return Array.from(new Set(wrong)).slice(0, 20);
};

checks.contrast = function () {
  var wrong = [], paper = checks.rgb(getComputedStyle(document.body).backgroundColor);
  document.querySelectorAll("h1,h2,p,dt,dd,.key > span,svg text").forEach(function (e) {
    var style = getComputedStyle(e), paint = e.tagName === "text" ? style.fill : style.color;
    var ratio = checks.ratio(checks.rgb(paint), paper);
    if (ratio < 4.5) wrong.push(ratio.toFixed(2) + " " + e.tagName + " " + e.textContent.slice(0, 30));
  });
  document.querySelectorAll(".hill svg line,.hill svg path,.hill svg circle").forEach(function (e) {
    var style = getComputedStyle(e), line = checks.rgb(style.stroke), area = checks.rgb(style.fill);
    var seen = [line, area].some(function (c) { return c && checks.ratio(c, paper) >= 3; });
    if (!seen && !/url/.test(style.fill)) wrong.push("not seen: " + e.outerHTML.slice(0, 60));
  });
  document.querySelectorAll(".defs path").forEach(function (e) {
    if (checks.ratio(checks.rgb(getComputedStyle(e).stroke), paper) < 3) wrong.push("a hatch");
  });
  return Array.from(new Set(wrong)).slice(0, 20);
};

checks.names = function () {
  var wrong = [], ids = {};
  if (document.documentElement.lang !== "en") wrong.push("no language");
  document.querySelectorAll("svg").forEach(function (e) {
    var title = e.querySelector(":scope > title");
    if (e.getAttribute("role") === "img" ? !(title && title.textContent.trim())
                                         : e.getAttribute("aria-hidden") !== "true")
      wrong.push("a drawing that is neither named nor hidden");
  });
  document.querySelectorAll("[id]").forEach(function (e) {
    if (ids[e.id]) wrong.push("twice: " + e.id);
    ids[e.id] = true;
  });
  document.querySelectorAll("article").forEach(function (e) {
    if (!e.querySelector("h2") || !e.querySelector("h2").textContent.trim())
      wrong.push("a card without a heading");
  });
  if (document.querySelectorAll("h1").length !== 1) wrong.push("not one h1");
  if (document.querySelectorAll("script,link,img,iframe").length > 0) wrong.push("more than a page");
  return wrong;
};
