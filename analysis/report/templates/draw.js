// SPDX-License-Identifier: GPL-2.0-or-later
// Draws the charts one after the other, so that the text can be read at once.
"use strict";
(() => {
  const charts = Array.from(document.querySelectorAll(".chart"));
  const printWidth = 660; // px; fits between the margins of A4 and Letter
  const printShare = 0.66; // of the height on screen, so that two charts fit a page
  const phoneShare = 0.75; // of the height, so that the first picture is on the first screen
  const coarse = window.matchMedia("(pointer: coarse)").matches;

  function draw(box) {
    const source = document.getElementById(box.id.replace("chart-", "data-"));
    const figure = JSON.parse(source.textContent);
    if (coarse) figure.layout.dragmode = false; // a finger on a chart scrolls the page
    if (box.clientWidth < 480) {
      figure.layout.height = setHeight(box, phoneShare);
      figure.layout.margin.l = 46;
      figure.layout.font.size = 12;
    }
    Plotly.newPlot(box, figure.data, figure.layout, {
      displayModeBar: false,
      responsive: true,
      doubleClick: "reset",
    });
  }

  function drawNext(index) {
    if (index === charts.length) {
      document.documentElement.dataset.drawn = String(Math.round(performance.now()));
      return;
    }
    if (!charts[index].data) draw(charts[index]);
    setTimeout(drawNext, 0, index + 1);
  }

  function setHeight(box, share) {
    const height = Math.round(Number(box.dataset.height) * share);
    box.style.height = `${height}px`;
    return height;
  }

  window.addEventListener("beforeprint", () => {
    for (const box of charts) {
      if (!box.data) draw(box);
      const small = Number(box.dataset.height) < 300 || box.closest("#answer");
      Plotly.relayout(box, { width: printWidth, height: setHeight(box, small ? 1 : printShare) });
    }
  });
  window.addEventListener("afterprint", () => {
    for (const box of charts) {
      const share = box.clientWidth < 480 ? phoneShare : 1;
      Plotly.relayout(box, { width: null, height: setHeight(box, share), autosize: true });
    }
  });
  drawNext(0);
})();
