// Notes when the server was last heard: what a page shows is live only while it is.
"use strict";
const heard = { at: 0, socket: null };
window.WebSocket = class extends WebSocket {
  constructor(...given) {
    super(...given);
    heard.socket = this;
    this.addEventListener("message", () => { heard.at = Date.now(); });
  }
};
