// SPDX-License-Identifier: GPL-2.0-or-later
// Opens what a link leads into. Within another page it tells that page how high this one is, and
// where a link leads, so that the two are read as one.
"use strict";
(() => {
  const isWithin = window.parent !== window;

  function openTarget() {
    const fold = document.querySelector(":target details");
    if (fold) fold.open = true; // not all browsers do
  }
  window.addEventListener("hashchange", openTarget);
  document.addEventListener("DOMContentLoaded", openTarget);

  if (!isWithin) return;
  const page = document.documentElement;
  page.dataset.within = "";
  const tell = (more) => {
    const height = Math.ceil(page.getBoundingClientRect().height);
    window.parent.postMessage({ height, ...more }, "*"); // nothing but numbers
  };
  new ResizeObserver(() => tell({})).observe(page);
  window.addEventListener("load", () => tell({})); // a browser observes nothing that is out of sight
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']");
    const target = link && document.getElementById(link.hash.slice(1));
    if (!target) return;
    const fold = target.querySelector("details");
    if (fold) fold.open = true; // first, as the page may be too low to lead there
    tell({ top: target.getBoundingClientRect().top + window.scrollY });
  });
})();
