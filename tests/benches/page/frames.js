// Times frames from inside: begun, drawn, and over when a message posted after the drawing arrives, which is after
// the browser has laid out and painted. Waiting for the next frame would read a whole frame for drawing nothing.
"use strict";

{
  const realRequest = window.requestAnimationFrame.bind(window);
  let deferredMs = 0;
  // What the page under test puts off to a frame of its own counts too.
  window.requestAnimationFrame = (callback) =>
    realRequest((time) => {
      const start = performance.now();
      callback(time);
      deferredMs += performance.now() - start;
    });

  // Milliseconds of each of `count` frames; `draw(i)` draws one, `prepare(i)` goes before it and is not timed.
  window.timeFrames = (count, draw, prepare = () => {}) =>
    new Promise((resolve) => {
      const times = [];
      const channel = new MessageChannel();
      let start = 0;
      const frame = () => {
        prepare(times.length);
        start = performance.now() - deferredMs;
        draw(times.length);
        channel.port2.postMessage(null);
      };
      channel.port1.onmessage = () => {
        times.push(performance.now() - start);
        // What ran beside this frame is in its time already.
        deferredMs = 0;
        if (times.length < count) realRequest(frame);
        else resolve(times);
      };
      deferredMs = 0;
      realRequest(frame);
    });

  // To and fro: +1 for `half` steps, then -1 for as many.
  window.direction = (i, half = 40) => (Math.floor(i / half) % 2 ? -1 : 1);
}
