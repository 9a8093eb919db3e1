// SPDX-License-Identifier: GPL-2.0-or-later
// Draws the charts one after the other, so that the text can be read at once.
"use strict";
(() => {
  const charts = Array.from(document.querySelectorAll(".chart"));
  const printWidth = 660; // px; fits between the margins of A4 and Letter
  const printShare = 0.66; // of the height on screen, so that two charts fit a page
  const phoneShare = 0.75; // of a low picture's height, so that it is on the first screen
  const answerPrintHeight = 560; // px; at most, so that the picture fits below the answer
  const coarse = window.matchMedia("(pointer: coarse)").matches;

  function draw(box) {
    const source = document.getElementById(box.id.replace("chart-", "data-"));
    const figure = JSON.parse(source.textContent);
    if (coarse) figure.layout.dragmode = false; // a finger on a chart scrolls the page
    if (box.clientWidth < 480) {
      figure.layout.height = setHeight(box, shareOnPhone(box));
      figure.layout.margin.l = 46;
      figure.layout.font.size = 12;
    }
    Plotly.newPlot(box, figure.data, figure.layout, {
      displayModeBar: false,
      responsive: true,
      doubleClick: "reset",
    });
  }

  // a chart in a folded section has no width yet; it is drawn when the section is opened
  function isFolded(box) {
    const fold = box.closest("details");
    return fold !== null && !fold.open;
  }

  function drawNext(index) {
    if (index === charts.length) {
      document.documentElement.dataset.drawn = String(Math.round(performance.now()));
      return;
    }
    if (!charts[index].data && !isFolded(charts[index])) draw(charts[index]);
    setTimeout(drawNext, 0, index + 1);
  }

  function setHeight(box, share) {
    const height = Math.round(Number(box.dataset.height) * share);
    box.style.height = `${height}px`;
    return height;
  }

  function shareOnPhone(box) {
    const height = Number(box.dataset.height);
    return height < 300 || height > 500 ? 1 : phoneShare; // a tall one has more panels
  }

  function shareOnPaper(box) {
    const height = Number(box.dataset.height);
    if (box.closest("#answer")) return Math.min(1, answerPrintHeight / height);
    return height < 300 ? 1 : printShare;
  }

  window.addEventListener("beforeprint", () => {
    for (const box of charts) {
      if (isFolded(box)) continue;
      if (!box.data) draw(box);
      Plotly.relayout(box, { width: printWidth, height: setHeight(box, shareOnPaper(box)) });
    }
  });
  window.addEventListener("afterprint", () => {
    for (const box of charts) {
      if (isFolded(box)) continue;
      const share = box.clientWidth < 480 ? shareOnPhone(box) : 1;
      Plotly.relayout(box, { width: null, height: setHeight(box, share), autosize: true });
    }
  });
  for (const fold of document.querySelectorAll("details")) {
    fold.addEventListener("toggle", () => {
      if (fold.open) for (const box of fold.querySelectorAll(".chart")) if (!box.data) draw(box);
    });
  }
  drawNext(0);
})();
