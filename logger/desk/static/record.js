// SPDX-License-Identifier: GPL-2.0-or-later
// The recording under way, as it goes on; the page is read again once it has ended.
const byId = (name) => document.getElementById(name);
const source = new EventSource(byId("recording").dataset.events);
const whole = (value) => (value === null || value === undefined ? "–" : Math.round(value).toLocaleString("en"));

function showLights(devices) {
  const items = devices.map((device) => {
    const item = document.createElement("li");
    item.className = device.light;
    item.textContent = `${device.name}: ${device.light === "good" ? "good" : device.words || device.light}`;
    return item;
  });
  byId("lights").replaceChildren(...items);
}

function showBins(bins) {
  const bars = bins.map(([rpm, seconds]) => {
    const bar = document.createElement("span");
    bar.className = seconds >= 2 ? "full" : seconds > 0 ? "begun" : "open";
    bar.textContent = rpm % 500 === 0 ? whole(rpm) : "";
    bar.title = `${whole(rpm)} rpm: ${seconds.toFixed(0)} s`;
    return bar;
  });
  byId("bins").replaceChildren(...bars);
}

source.onmessage = (event) => {
  const state = JSON.parse(event.data);
  if (state.state !== "recording" && state.state !== "starting") {
    source.close();
    location.reload();
    return;
  }
  if (state.elapsed_s === undefined) return;
  const seconds = Math.floor(state.elapsed_s);
  byId("elapsed").textContent = `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
  byId("rpm").textContent = whole(state.rpm);
  byId("level").textContent = whole(state.level_db);
  byId("unit").textContent = state.level_unit;
  byId("marks").textContent = whole(state.mark_count);
  byId("meter").value = state.level_db === null ? -60 : state.level_db - state.full_scale_db;
  byId("advice").textContent = state.is_too_loud ? "Too loud: lower the input level." : state.advice;
  byId("trouble").hidden = !state.trouble_count;
  byId("trouble").textContent = state.last_trouble;
  showLights(state.devices);
  showBins(state.bins);
};
