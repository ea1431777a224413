// Follows the worker's script in the blob, and the address of its module: what comes before it runs is kept for it.
const waiting = [];
onmessage = (event) => waiting.push(event);
wasm_bindgen({ module_or_path })
  .then(() => waiting.forEach((event) => onmessage(event)))
  // Out of the promise, where the page hears of it.
  .catch((error) => setTimeout(() => { throw error; }));
