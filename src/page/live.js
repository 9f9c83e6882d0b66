// Keeps a page live: fills its parts anew as the server sends them, counts ages up, and says at once when nothing
// comes any more. What is shown is always made by the server; without this script the page loads itself again.
"use strict";
(() => {
  const { body } = document;
  if (!body.dataset.live || !window.EventSource) return;
  const SILENCE_MS = 4000;
  const lost = document.getElementById("lost");
  const held = new Map();   // the newest content of each part
  const waiting = new Set(); // parts that somebody is writing in
  let moments = JSON.parse(body.dataset.moments || "{}");
  let ahead = Date.now() - Number(body.dataset.now); // this clock minus the server's
  let heard = Date.now();

  for (const part of document.querySelectorAll("[data-part]")) held.set(part.id, part.innerHTML);

  const about = (ms) => {
    const s = Math.max(0, Math.floor(ms / 1000));
    if (s < 100) return `${s} s`;
    if (s < 6000) return `${Math.floor(s / 60)} min`;
    if (s < 172800) return `${Math.floor(s / 3600)} h ${Math.floor(s / 60) % 60} min`;
    return `${Math.floor(s / 86400)} d ${Math.floor(s / 3600) % 24} h`;
  };
  const write = (element, text) => { if (element.textContent !== text) element.textContent = text; };

  const tick = () => {
    const now = Date.now() - ahead;
    for (const age of document.querySelectorAll("[data-age]")) {
      const moment = moments[age.dataset.age];
      if (moment !== undefined) write(age, `${about(now - moment)} old`);
    }
    for (const left of document.querySelectorAll("[data-until]")) {
      const ms = Number(left.dataset.until) - now;
      write(left, ms > 0 ? `${about(ms)} left` : "time is over");
    }
    if (Date.now() - heard > SILENCE_MS) lose();
  };

  const lose = () => {
    if (body.classList.contains("lost")) return;
    body.classList.add("lost");
    lost.textContent = `✕ No connection since ${new Date(heard).toLocaleTimeString()}. Everything below is OLD. Do not rely on it.`;
    lost.hidden = false;
  };
  const find = () => {
    heard = Date.now();
    if (!body.classList.contains("lost")) return;
    body.classList.remove("lost");
    lost.hidden = true;
    lost.textContent = "";
  };

  // The element that had the focus, by something that is the same in the part made anew.
  const same = (part, element) => {
    if (element.id) return document.getElementById(element.id);
    const kind = element.tagName.toLowerCase();
    const all = [...part.querySelectorAll(kind)];
    return all.find((other) => other.getAttribute("href") === element.getAttribute("href") &&
      other.textContent === element.textContent && (other.closest("[id]") || {}).id === element.dataset.within);
  };
  const writes = (part) => {
    const focus = document.activeElement;
    return focus && part.contains(focus) && focus.matches("input:not([type=hidden]), select, textarea");
  };
  const fill = (id) => {
    const part = document.getElementById(id);
    if (!part || part.innerHTML === held.get(id)) return;
    if (writes(part)) { waiting.add(id); return; }
    waiting.delete(id);
    const open = [...part.querySelectorAll("details[open]")].map((details) => details.id);
    const written = [...part.querySelectorAll("details[open] [name]:not([type=hidden])")].map((field) =>
      [field.closest("details").id, field.name, field.value, field.checked]);
    const focus = part.contains(document.activeElement) ? document.activeElement : null;
    if (focus) focus.dataset.within = (focus.closest("[id]") || {}).id;
    part.innerHTML = held.get(id);
    for (const id of open) { const details = document.getElementById(id); if (details) details.open = true; }
    for (const [id, name, value, checked] of written) {
      const field = document.querySelector(`#${CSS.escape(id)} [name="${name}"]`);
      if (field) { field.value = value; field.checked = checked; }
    }
    for (const inner of part.querySelectorAll("[data-part]")) inner.innerHTML = held.get(inner.id) || "";
    if (focus) { const again = same(part, focus); if (again) again.focus({ preventScroll: true }); }
  };
  const arrange = (order) => {
    const list = document.getElementById("order");
    if (!list) return;
    const focus = document.activeElement;
    for (const id of order) {
      const item = document.getElementById(id);
      if (!item) { location.reload(); return; }
      list.append(item);
    }
    if (focus && focus !== document.activeElement) focus.focus({ preventScroll: true });
  };

  // The horn: only after somebody has asked for it, and only while it sounds at this place.
  let sound = null;
  const horn = () => {
    const box = document.querySelector(".horn");
    if (!box) return;
    const button = box.querySelector(".sound");
    if (button.hidden) button.hidden = false;
    write(button, sound ? "Sound on this screen: on" : "Sound on this screen: off");
    button.setAttribute("aria-pressed", String(Boolean(sound)));
    if (!sound || box.dataset.sounds !== "true") return;
    const [tone, loud] = [sound.createOscillator(), sound.createGain()];
    tone.type = "triangle"; tone.frequency.value = 660; loud.gain.value = 0.2;
    tone.connect(loud).connect(sound.destination);
    tone.start(); tone.stop(sound.currentTime + 0.35);
  };
  document.addEventListener("click", (event) => {
    if (!event.target.closest(".sound")) return;
    if (sound) { sound.close(); sound = null; } else sound = new AudioContext();
    horn();
  });
  document.addEventListener("focusout", () => setTimeout(() => [...waiting].forEach(fill)));

  const stream = new EventSource(body.dataset.live);
  stream.onmessage = ({ data }) => {
    const message = JSON.parse(data);
    find();
    ahead = Date.now() - message.now;
    moments = message.moments;
    for (const [id, content] of message.parts) held.set(id, content);
    for (const [id] of message.parts) fill(id);
    if (message.order) arrange(message.order);
    tick(); horn();
  };
  stream.onerror = lose;
  setInterval(tick, 500);
  setInterval(horn, 1500);
  document.addEventListener("visibilitychange", tick);
  tick(); horn();
})();
