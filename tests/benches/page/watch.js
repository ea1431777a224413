// Runs before the app and watches it from outside: what it asked its worker and when the answer came, when a run was
// listed and drawn, how long its thread was held up, how much memory both sides hold.
"use strict";

{
  // Also runs in the worker, so it may use nothing from outside itself.
  const keepMemories = () => {
    const memories = [];
    for (const name of ["instantiate", "instantiateStreaming"]) {
      const real = WebAssembly[name];
      WebAssembly[name] = async (...given) => {
        const made = await real.apply(WebAssembly, given);
        const { memory } = (made.instance ?? made).exports;
        if (memory) memories.push(memory);
        return made;
      };
    }
    return () => memories.reduce((sum, memory) => sum + memory.buffer.byteLength, 0);
  };
  const answerMemories = (held) => {
    const channel = new BroadcastChannel("watch");
    channel.onmessage = ({ data }) => data === "memory?" && channel.postMessage(held());
  };
  const inWorker = `(${answerMemories})((${keepMemories})());\n`;
  const held = keepMemories();

  const now = () => performance.now();
  const watch = (window.watch = {
    calls: [],
    answers: [],
    received: [],
    longTasks: [],
    gaps: [],
    marks: [],
    // The largest a worker's memory was, bytes.
    highest: 0,
    chosen: null,
    listed: null,
    runsBefore: 0,
    interactive: null,
  });

  // The worker begins from a blob.
  window.Blob = new Proxy(Blob, {
    construct: (Real, [parts = [], options]) => {
      const isWorker = options?.type === "text/javascript";
      return new Real(isWorker ? [inWorker, ...parts] : parts, options);
    },
  });
  window.Worker = new Proxy(Worker, {
    construct: (Real, given) => {
      const worker = new Real(...given);
      worker.addEventListener("message", hear);
      return worker;
    },
  });

  // What page and worker say begins with an id and the number of its kind, each after a byte (`evenkeel_wire`).
  const heads = (said) => {
    if (!(said instanceof Uint8Array) || said.length < 18) return null;
    const view = new DataView(said.buffer, said.byteOffset);
    return [1, 10].map((at) => Number(view.getBigUint64(at, true)));
  };
  const post = Worker.prototype.postMessage;
  Worker.prototype.postMessage = function (message, ...more) {
    const call = heads(message?.said);
    if (call) watch.calls.push({ id: call[0], what: REQUESTS[call[1]], sent: now(), done: null });
    return post.call(this, message, ...more);
  };

  const afterwards = (then) => {
    const { port1, port2 } = new MessageChannel();
    port1.onmessage = then;
    port2.postMessage(null);
  };

  function hear(event) {
    const arrived = now();
    const { data } = event;
    const [id, news] = heads(data?.said) ?? [];
    // A reply ends with the size of the worker's memory.
    if (id) {
      const { buffer, byteOffset, byteLength } = data.said;
      watch.highest = Math.max(watch.highest, new DataView(buffer, byteOffset + byteLength - 8).getFloat64(0, true));
    }
    const call = watch.calls.find((call) => call.id === id && !call.done);
    if (!call || NEWS[news] === "Progress") return;
    const arrays = Object.values(data).filter(Array.isArray).flat(3).filter(ArrayBuffer.isView);
    arrays.forEach((array) => watch.received.push(new WeakRef(array.buffer)));
    Object.assign(call, { done: arrived, outcome: NEWS[news], answerBytes: data.answer?.byteLength ?? 0 });
    call.bufferBytes = arrays.reduce((sum, array) => sum + array.byteLength, 0);
    // Posted before the app hears of the answer, heard after it has dealt with it.
    afterwards(() => (call.heldUp = now() - arrived));
  }

  // What becomes visible: the button that starts the demo, the run in the Day's list.
  const look = () => {
    const demo = document.getElementById("demo");
    if (demo && watch.interactive === null) {
      watch.interactive = undefined;
      requestAnimationFrame(() => afterwards(() => (watch.interactive = now())));
    }
    const run = watch.chosen !== null && document.querySelectorAll(".run")[watch.runsBefore];
    if (run && watch.listed === null && run.querySelector(".files td.number")) {
      watch.listed = now();
      // As a person's click, in a task of its own.
      afterwards(() => run.querySelector("button.main").click());
    }
  };
  new MutationObserver(look).observe(document, { childList: true, subtree: true });
  const chosen = ({ target }) => {
    if (!target.files?.length) return;
    watch.runsBefore = document.querySelectorAll(".run").length;
    // What went before has nothing to do with this file.
    Object.assign(watch, { chosen: now(), listed: null, calls: [] });
  };
  addEventListener("change", chosen, true);

  new PerformanceObserver((list) => {
    for (const { startTime, duration } of list.getEntries()) watch.longTasks.push({ at: startTime, ms: duration });
  }).observe({ type: "longtask", buffered: true });
  new PerformanceObserver((list) => {
    for (const { name, startTime } of list.getEntries()) {
      watch.marks.push({ name, at: startTime });
    }
  }).observe({ type: "mark", buffered: true });

  // Pings the page's thread every few milliseconds, and writes down every wait that was longer.
  const EVERY_MS = 4;
  watch.ping = () => {
    let last = now();
    const tick = () => {
      const waited = now() - last - EVERY_MS;
      if (waited > 5) watch.gaps.push({ at: last, ms: waited });
      last = now();
      setTimeout(() => afterwards(tick), EVERY_MS);
    };
    tick();
  };

  watch.settled = () => {
    const last = Math.max(watch.chosen ?? Infinity, ...watch.calls.map((call) => call.done ?? Infinity));
    return watch.calls.length > 0 && now() - last > 700;
  };

  watch.memory = () =>
    new Promise((resolve) => {
      const alive = watch.received.map((buffer) => buffer.deref()?.byteLength ?? 0);
      const channel = new BroadcastChannel("watch");
      channel.onmessage = ({ data }) => {
        if (typeof data !== "number") return;
        channel.close();
        resolve({ page: held(), worker: data, buffers: alive.reduce((sum, bytes) => sum + bytes, 0) });
      };
      channel.postMessage("memory?");
    });
}
