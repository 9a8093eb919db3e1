// SPDX-License-Identifier: GPL-2.0-or-later
// What fields show of the car is that of the car chosen: the page is asked for once more with it.
const choice = document.getElementById("car");
choice?.addEventListener("change", async () => {
  const chosen = choice.value;
  const address = new URL(location.href);
  address.searchParams.set("car", chosen);
  const reply = await fetch(address);
  if (!reply.ok || chosen !== choice.value) return; // a later choice is on its way
  const page = new DOMParser().parseFromString(await reply.text(), "text/html");
  for (const field of choice.form.querySelectorAll("input[id]")) {
    field.placeholder = page.getElementById(field.id)?.placeholder ?? "";
  }
});
