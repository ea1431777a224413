// Follows the app's script in the blob: the first message is the compiled module, all later ones are the app's.
onmessage = ({ data: module }) => {
  onmessage = null;
  wasm_bindgen.initSync({ module });
};
