// SPDX-License-Identifier: GPL-2.0-or-later
// Each answer brings the questions that follow from it, and the drawing, without a button.
let asked = 0;

function answers(form) {
  return new URLSearchParams(new FormData(form)).toString();
}

async function askAgain(form) {
  const mine = ++asked;
  const sent = answers(form);
  const reply = await fetch(form.action, { method: "POST", body: new URLSearchParams(sent) });
  const text = await reply.text();
  if (!reply.ok || mine !== asked) return; // a later answer is on its way
  if (answers(form) !== sent) {
    askAgain(form); // somebody went on typing: nothing of that may be lost
    return;
  }
  const next = new DOMParser().parseFromString(text, "text/html").getElementById("asked");
  if (!next) return;
  const { id, selectionStart } = document.activeElement;
  form.replaceChildren(...next.childNodes);
  const field = document.getElementById(id);
  field?.focus();
  if (selectionStart !== undefined && selectionStart !== null) {
    field?.setSelectionRange?.(selectionStart, selectionStart);
  }
}

const form = document.getElementById("asked");
form.addEventListener("change", () => askAgain(form));
form.addEventListener("submit", (event) => {
  if (["write", "anew"].includes(event.submitter?.name)) return;
  event.preventDefault();
  askAgain(form);
});
