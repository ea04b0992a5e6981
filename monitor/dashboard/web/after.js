// Begins once the font is there, in letters that give a phone its columns; covers the page while nothing is heard.
"use strict";
const COLUMNS = 45, ADVANCE = 0.61, SMALLEST = 9, LARGEST = 16; // ADVANCE: of the font, its width to its size
const PING_MS = 2000, SILENT_MS = 6000, NEVER_MS = 20000;
const cover = document.getElementById("cover");
const why = document.getElementById("why");
const begun = Date.now();

function lost(text) {
  why.textContent = text;
  cover.className = "lost";
}

function look() {
  const { socket, at } = heard;
  if (socket && socket.readyState > WebSocket.OPEN) {
    lost("Closed. Nothing on this page is live any more.");
  } else if (!at) {
    if (Date.now() - begun > NEVER_MS) lost("No answer. Look at the terminal in which legwatch watch --web runs.");
  } else if (Date.now() - at > SILENT_MS) {
    lost("No answer for " + Math.floor((Date.now() - at) / 1000) + " s. Nothing on this page is live.");
  } else if (document.body.classList.contains("-first-byte")) {
    cover.className = "gone";
  }
}

function ping() {
  if (heard.socket && heard.socket.readyState === WebSocket.OPEN) {
    heard.socket.send(JSON.stringify(["ping", String(Date.now())]));
  }
}

document.getElementById("again").addEventListener("click", () => window.location.reload());
const start = window.onload;
window.onload = async (event) => {
  try { await document.fonts.load("16px 'Roboto Mono'"); } catch { /* the browser's own font does too */ }
  const size = Math.floor(window.innerWidth / COLUMNS / ADVANCE);
  document.getElementById("terminal").dataset.fontSize = Math.min(Math.max(size, SMALLEST), LARGEST);
  start(event);
  document.querySelector(".xterm-helper-textarea").focus(); // keys count without a click
  setInterval(ping, PING_MS);
  setInterval(look, 250);
};
