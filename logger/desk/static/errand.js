// SPDX-License-Identifier: GPL-2.0-or-later
// How far an errand is; its page is read again once it has ended.
const place = document.getElementById("errand");
const source = new EventSource(place.dataset.events);
source.onmessage = (event) => {
  const state = JSON.parse(event.data);
  document.getElementById("part").value = state.percent;
  document.getElementById("doing").textContent = state.doing;
  if (state.ended) {
    source.close();
    location.reload();
  }
};
source.onerror = () => {
  if (source.readyState === EventSource.CLOSED) {
    document.getElementById("doing").textContent = "The desk does not answer. Is it still running?";
  }
};
