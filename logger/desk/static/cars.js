// SPDX-License-Identifier: GPL-2.0-or-later
// Each answer brings the questions that follow from it, and the drawing, without a button.
async function askAgain(form) {
  const answer = await fetch(form.action, { method: "POST", body: new URLSearchParams(new FormData(form)) });
  if (!answer.ok) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const next = page.getElementById("asked");
  if (!next) return;
  const focused = document.activeElement.id;
  form.replaceChildren(...next.childNodes);
  document.getElementById(focused)?.focus();
}

document.getElementById("asked").addEventListener("change", (event) => askAgain(event.currentTarget));
