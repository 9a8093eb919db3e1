// SPDX-License-Identifier: GPL-2.0-or-later
// Tells when each file was last written: an upload itself is of now, whenever the drive was.
const form = document.getElementById("files");
form?.addEventListener("change", () => {
  const files = Array.from(form.querySelectorAll("input[type=file]")).flatMap((field) => Array.from(field.files));
  const written = Object.fromEntries(files.map((file) => [file.name, file.lastModified]));
  form.elements.namedItem("written").value = JSON.stringify(written);
});
