// Plays a hand on the app's plot: what a person's wheel, pointer and keys send, one event a frame.
"use strict";

window.hand = (() => {
  const plot = () => document.getElementById("plot");
  const box = () => plot().getBoundingClientRect();
  const at = (x) => {
    const { left, top, height } = box();
    return { clientX: left + x, clientY: top + height / 2, bubbles: true, cancelable: true };
  };
  const wheel = (x, deltaY, shiftKey) => plot().dispatchEvent(new WheelEvent("wheel", { ...at(x), deltaY, shiftKey }));
  const click = (x) => {
    const pointer = { ...at(x), pointerId: 1, isPrimary: true, pointerType: "mouse", button: 0 };
    plot().dispatchEvent(new PointerEvent("pointerdown", { ...pointer, buttons: 1 }));
    plot().dispatchEvent(new PointerEvent("pointerup", { ...pointer, buttons: 0 }));
  };
  const key = (name, shiftKey) =>
    plot().dispatchEvent(new KeyboardEvent("keydown", { key: name, shiftKey, bubbles: true, cancelable: true }));
  const rested = () => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 30)));
  const cursor = () => Number(plot().getAttribute("aria-valuenow"));
  // The first and last moment in view, as clicks at both edges find them.
  const edges = async () => {
    const { width } = box();
    const found = [];
    for (const x of [0, width - 1]) {
      click(x);
      await rested();
      found.push(cursor());
    }
    return found;
  };
  // Zooms until about so many seconds are in view, away from both ends of the run; says how many there are.
  const showSeconds = async (seconds) => {
    const { width } = box();
    key("0");
    await rested();
    let [start, end] = await edges();
    let turn = 100;
    for (let tries = 0; tries < 12 && Math.abs((end - start) / seconds - 1) > 0.01; tries += 1) {
      const before = end - start;
      wheel(width / 2, before > seconds ? -turn : turn);
      await rested();
      [start, end] = await edges();
      const gained = Math.abs(Math.log((end - start) / before)) / turn;
      if (gained > 0) turn = Math.abs(Math.log(seconds / (end - start))) / gained;
    }
    return end - start;
  };
  const acts = {
    pan: (i) => wheel(box().width / 2, 4 * direction(i), true),
    zoom: (i) => wheel(box().width / 2, -5 * direction(i, 20), false),
    cursor: (i) => click(40 + ((i * 7) % (box().width - 80))),
    key: (i) => key(direction(i, 100) > 0 ? "ArrowRight" : "ArrowLeft", true),
    nothing: () => plot().dispatchEvent(new Event("nothing", { bubbles: true })),
  };
  const facts = () => {
    const { width } = box();
    const rows = [...document.querySelectorAll(".row-label")];
    const rowHeight = rows.length ? rows[0].getBoundingClientRect().height : 0;
    return { width, rows: rows.length, rowHeight, lines: document.querySelectorAll(".row-label .value").length };
  };
  return { showSeconds, facts, edges, time: (act, count) => timeFrames(count, acts[act]) };
})();
