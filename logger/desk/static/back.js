// SPDX-License-Identifier: GPL-2.0-or-later
// The browser's own way back keeps what was typed and chosen; the link alone would not.
document.getElementById("back").addEventListener("click", (event) => {
  if (history.length < 2) return;
  event.preventDefault();
  history.back();
});
