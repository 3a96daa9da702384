// Stop: reacts before the daemon has answered, and goes on trying until it has.
import { tell } from "/page/api.js";
import { say, show } from "/page/dom.js";

const again_ms = 500, give_up_ms = 30000, told_ms = 5000;

/** Wires the button and the key Escape; `note` says in words what went wrong. */
export function stop_control(live, button, note) {
  const word = button.querySelector(".word");
  let trying = false;

  function draw() {
    say(word, live.stopping ? "Stopping" : "Stop");
    button.classList.toggle("pressed", live.stopping);
  }

  function warn(text) { say(note, text); show(note, text !== ""); }

  async function reach() {
    const began = performance.now();
    for (;;) {
      try { await tell("/api/stop", {}, { signal: AbortSignal.timeout(3000) }); return true; }
      catch (error) {
        warn(`Stop has NOT reached the rig: ${error.message} Switch the interface's outputs off by hand. Trying again.`);
      }
      if (performance.now() - began > give_up_ms) return false;
      await new Promise((resume) => setTimeout(resume, again_ms));
    }
  }

  async function stop() {
    live.set_stopping(true);
    if (trying) return void tell("/api/stop").catch(() => {});   // the loop tells what goes wrong
    trying = true;
    const reached = await reach();
    trying = false;
    if (reached) {
      warn("");
      setTimeout(() => { if (live.stopping) warn("Stop has reached the rig, but it has not said yet that it is silent."); }, told_ms);
    } else {
      live.set_stopping(false);   // takes the note away, which must stay now
      warn("Stop has NOT reached the rig for 30 s. Switch the interface's outputs off by hand.");
    }
  }

  button.addEventListener("click", stop);
  document.addEventListener("keydown", (e) => {
    if (e.key !== "Escape" || e.repeat) return;
    e.preventDefault();
    stop();
  }, { capture: true });
  live.addEventListener("stopping", () => { draw(); if (!live.stopping && !trying) warn(""); });
  draw();
}
