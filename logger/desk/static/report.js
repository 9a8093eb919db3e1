// SPDX-License-Identifier: GPL-2.0-or-later
// Gives the report the height that it tells, so that both are one page with one scroll bar. Not
// deferred: the report may tell it before this page is read to its end.
window.addEventListener("message", (event) => {
  const report = document.getElementById("report");
  if (!report || event.source !== report.contentWindow) return;
  const { height, top } = event.data;
  if (Number.isFinite(height)) report.style.height = `${height}px`;
  if (Number.isFinite(top)) window.scrollTo(0, report.getBoundingClientRect().top + window.scrollY + top);
});
