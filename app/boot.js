// Starts the app, and finds what belongs to it: beside the page, or within it where everything is one file.
"use strict";

const beside = (() => {
  const block = (name) => document.querySelector(`script[data-file="${name}"]`);
  const addresses = JSON.parse(block("addresses")?.textContent ?? "{}");
  const address = (name) => new URL(addresses[name] ?? name, document.baseURI).href;
  const inflated = (stream) => new Response(stream.pipeThrough(new DecompressionStream("deflate-raw")));
  const within = ({ textContent }) => {
    const text = atob(textContent);
    const bytes = new Uint8Array(text.length);
    for (let i = 0; i < bytes.length; i += 1) bytes[i] = text.charCodeAt(i);
    return inflated(new Blob([bytes]).stream());
  };

  const fetched = async (address) => {
    const response = await fetch(address);
    if (!response.ok) throw new Error(`${address} is not there (status ${response.status}); is the site whole?`);
    return response;
  };
  // Where a program's module is, or the module itself.
  const module = async (program) => {
    const name = `${program}_bg.wasm`;
    const found = block(name);
    return found ? WebAssembly.compile(await within(found).arrayBuffer()) : address(name);
  };

  // What a worker is made of, fetched and compiled once: one that follows another needs no network.
  const scripts = new Map();
  const modules = new Map();
  const script = (name) => {
    const text = block(name)?.textContent ?? scripts.get(name);
    if (text) return text;
    fetched(address(name)).then((response) => response.text()).then((text) => scripts.set(name, text), () => {});
    return `importScripts(${JSON.stringify(address(name))});`;
  };
  const ready = (program) => {
    const made = modules.get(program) ?? module(program).then(async (found) => {
      if (typeof found !== "string") return found;
      const response = await fetched(found);
      // Not every server says what it is.
      const bytes = response.clone();
      return WebAssembly.compileStreaming(response).catch(async () => WebAssembly.compile(await bytes.arrayBuffer()));
    });
    modules.set(program, made);
    made.catch(() => modules.delete(program));
    return made;
  };

  // Runs in a worker after its script: what comes before the module runs is kept for it.
  const begin = () => {
    // A file that the page has read.
    class Held extends Blob {
      #bytes;
      constructor(bytes) { super(); this.#bytes = bytes; }
      get size() { return this.#bytes.byteLength; }
      slice(from, to) { return new Held(this.#bytes.slice(from, to)); }
      async arrayBuffer() { return this.#bytes; }
      async text() { return new TextDecoder().decode(this.#bytes); }
    }
    const waiting = [];
    addEventListener("message", ({ data }) => { if (data.held) data.file = new Held(data.held); });
    onmessage = (event) => {
      if (!event.data.module_or_path) return waiting.push(event);
      onmessage = (later) => waiting.push(later);
      wasm_bindgen(event.data)
        .then(() => waiting.forEach((earlier) => onmessage(earlier)))
        // Out of the promise, where the page hears of it.
        .catch((error) => setTimeout(() => { throw error; }));
    };
  };

  // On a page that was opened from a file, WebKit's workers can read no file: the page reads it for them.
  const readFirst = (worker) => {
    const post = worker.postMessage.bind(worker);
    worker.postMessage = (message) => {
      if (!message.file) return post(message);
      const { file, ...rest } = message;
      file.arrayBuffer().then((held) => post({ ...rest, held }, [held]), () => post(message));
    };
    return worker;
  };

  return {
    module,

    // Adds a later part to the page's program, and tells the program whether it is there.
    async add(part, callback, data) {
      const program = wasm_bindgen.initSync();
      const is_there = await module(part)
        .then(async (found) => {
          if (typeof found === "string") found = await (await fetched(found)).arrayBuffer();
          await WebAssembly.instantiate(found, { __wasm_split: program });
        })
        .then(() => true, (error) => console.error(error));
      program.__indirect_function_table.get(callback)(data, is_there ?? false);
    },

    // A file that was deflated when the site was made.
    async file(name) {
      const found = block(name);
      if (found) return within(found).blob();
      return inflated((await fetched(address(name))).body).blob();
    },

    // A worker, begun from a blob because only such a one inherits the page's content security policy.
    worker(program) {
      const url = URL.createObjectURL(
        new Blob([script(`${program}.js`), `\n(${begin})();`], { type: "text/javascript" }),
      );
      const worker = location.protocol === "file:" ? readFirst(new Worker(url)) : new Worker(url);
      ready(program).then(
        (module_or_path) => worker.postMessage({ module_or_path }),
        ({ message }) => worker.dispatchEvent(new ErrorEvent("error", { message })),
      );
      return worker;
    },
  };
})();

(async () => {
  const note = document.getElementById("boot");
  try {
    await wasm_bindgen({ module_or_path: await beside.module("page") });
    note.remove();
  } catch (error) {
    note.textContent =
      `Evenkeel could not start (${error}). Reload the page; if that does not help, use a current Chromium, Firefox or Safari.`;
    console.error(error);
  }
})();
