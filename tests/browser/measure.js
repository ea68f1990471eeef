// Measures one page in a test copy and tells the harness what is wrong with it. Runs
// in a browser, from tests/cli/test_browser.sh only: the pages themselves have no
// script. Contrast: WCAG 2.2, 1.4.3 and its definition of relative luminance.
(function () {
  "use strict";
  var faults = [];
  function fault(text) { if (faults.length < 20) faults.push(text); }
  addEventListener("error", function (e) { fault("error: " + (e.message || e.target)); }, true);

  function shown(e) {
    var r = e.getBoundingClientRect(), s = getComputedStyle(e);
    return r.width > 0 && r.height > 0 && s.visibility !== "hidden" && s.display !== "none";
  }
  function name(e) {
    return e.tagName.toLowerCase() + (e.className && e.className.baseVal === undefined ? "." + e.className : "") +
      " \"" + (e.textContent || "").trim().slice(0, 30) + "\"";
  }

  // ---- nothing is wider than the window but what scrolls by itself
  function overflow() {
    var wide = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth > wide + 1)
      fault("the page is " + document.documentElement.scrollWidth + " px wide in a window of " + wide);
    document.querySelectorAll("main *").forEach(function (e) {
      var scroller = e.closest(".scroll, .stock"), r = e.getBoundingClientRect();
      if (!scroller && !e.closest("svg") && shown(e) && r.right > wide + 1)
        fault("reaches beyond the window: " + name(e));
    });
  }

  // ---- colours
  function rgba(text) {
    var m = /rgba?\(([\d.]+)[, ]+([\d.]+)[, ]+([\d.]+)(?:[,/ ]+([\d.]+))?\)/.exec(text);
    return m ? [+m[1], +m[2], +m[3], m[4] === undefined ? 1 : +m[4]] : null;
  }
  function luminance(c) {
    var l = [0, 1, 2].map(function (i) {
      var x = c[i] / 255;
      return x <= 0.04045 ? x / 12.92 : Math.pow((x + 0.055) / 1.055, 2.4);
    });
    return 0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2];
  }
  function behind(e) {
    for (var at = e; at; at = at.parentElement) {
      var c = rgba(getComputedStyle(at).backgroundColor);
      if (c && c[3] > 0.99) return c;
    }
    return [255, 255, 255, 1];
  }
  function contrast() {
    var walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT), seen = 0;
    for (var n = walker.nextNode(); n; n = walker.nextNode()) {
      var e = n.parentElement, s, ink, paper, a, b, ratio, size;
      if (!n.data.trim() || !e || !shown(e) || e.closest("script, style, title")) continue;
      s = getComputedStyle(e);
      ink = rgba(e.closest("svg") ? s.fill : s.color);
      if (!ink) continue;
      paper = behind(e.closest("svg") ? e.closest("svg").parentElement : e);
      a = luminance(ink); b = luminance(paper);
      ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
      seen++;
      if (ratio < 4.5) fault("contrast " + ratio.toFixed(2) + ": " + name(e));
    }
    if (!seen) fault("no text was measured");
  }

  // ---- for those who listen
  function structure() {
    var last = 0, h1 = document.querySelectorAll("h1").length;
    if (h1 !== 1) fault(h1 + " main headings");
    document.querySelectorAll("h1, h2, h3, h4").forEach(function (h) {
      var level = +h.tagName[1];
      if (level > last + 1) fault("heading level leaps: " + name(h));
      if (!h.textContent.trim()) fault("an empty heading");
      last = level;
    });
    if (!document.documentElement.lang || !document.title) fault("no language or no title");
    document.querySelectorAll("table").forEach(function (t) {
      if (!t.querySelector("thead th")) fault("a table without headings: " + name(t));
    });
    document.querySelectorAll("svg, img").forEach(function (p) {
      var words = p.getAttribute("aria-label") || p.getAttribute("alt") ||
        (p.querySelector("title") || {}).textContent;
      if (p.getAttribute("aria-hidden") !== "true" && !(p.getAttribute("role") === "img" && words))
        fault("a picture without words");
    });
    document.querySelectorAll("a[href]").forEach(function (a) {
      var to = a.getAttribute("href");
      if (to[0] !== "#") fault("a link that leaves the page: " + to);
      else if (!document.getElementById(to.slice(1))) fault("a link to nowhere: " + to);
    });
    var ids = {};
    document.querySelectorAll("[id]").forEach(function (e) {
      if (ids[e.id]) fault("an identifier twice: " + e.id);
      ids[e.id] = 1;
    });
  }

  // ---- nothing runs, nothing is fetched
  function harmless() {
    if (document.scripts.length !== 1) fault(document.scripts.length - 1 + " scripts of its own");
    if (window.ran) fault("a label ran");
    document.querySelectorAll("*").forEach(function (e) {
      for (var i = 0; i < e.attributes.length; i++) {
        var a = e.attributes[i].name;
        if (/^on|^(src|srcset|data|action|formaction|poster|xlink:href)$/i.test(a))
          fault("attribute " + a + ": " + name(e));
      }
      if (/^(iframe|object|embed|link|base|form|foreignobject|use|image)$/i.test(e.tagName))
        fault("element " + e.tagName);
    });
    performance.getEntriesByType("resource").forEach(function (r) { fault("request: " + r.name); });
  }

  addEventListener("load", function () {
    document.querySelectorAll("details").forEach(function (d) { d.open = true; });
    [overflow, contrast, structure, harmless].forEach(function (look) {
      try { look(); } catch (e) { fault("the measuring failed: " + e.message); }
    });
    parent.postMessage({ page: location.pathname + location.hash, width: innerWidth,
      dark: matchMedia("(prefers-color-scheme: dark)").matches && luminance(behind(document.body)) < 0.1, faults: faults }, "*");
  });
})();
