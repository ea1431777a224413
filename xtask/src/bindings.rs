//! The JavaScript side of the app's modules.

use std::path::Path;

use wasm_bindgen_cli_support::Bindgen;

use crate::{Failure, checkout};

/// Writes `<name>.js` and `<name>_bg.wasm` into the folder.
pub fn write(module: &Path, name: &str, folder: &Path) -> Result<(), Failure> {
    let bindings = checkout::locked_version("wasm-bindgen")?;
    let library = checkout::locked_version("wasm-bindgen-cli-support")?;
    if bindings != library {
        return Err(format!(
            "Cargo.lock has wasm-bindgen {bindings} but wasm-bindgen-cli-support {library}: give both the same \
             version in Cargo.toml and run `cargo update --workspace`."
        ));
    }
    let mut bindgen = Bindgen::new();
    bindgen.input_path(module).out_name(name).typescript(false).remove_name_section(true);
    bindgen.remove_producers_section(true);
    // Classic scripts serve a page, a worker begun from a blob, and a page opened from a file.
    bindgen
        .no_modules(true)
        .and_then(|bindgen| bindgen.generate(folder))
        .map_err(|error| format!("the bindings of {} cannot be written: {error:#}", module.display()))
}
