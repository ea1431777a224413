//! The JavaScript side of the app's module.

use std::path::Path;

use wasm_bindgen_cli_support::Bindgen;

use crate::{Failure, checkout};

/// Writes `evenkeel.js` and `evenkeel_bg.wasm` into the folder.
pub fn write(module: &Path, folder: &Path) -> Result<(), Failure> {
    let bindings = checkout::locked_version("wasm-bindgen")?;
    let library = checkout::locked_version("wasm-bindgen-cli-support")?;
    if bindings != library {
        return Err(format!(
            "Cargo.lock has wasm-bindgen {bindings} but wasm-bindgen-cli-support {library}: give both the same \
             version in Cargo.toml and run `cargo update --workspace`."
        ));
    }
    let mut bindgen = Bindgen::new();
    bindgen.input_path(module).out_name("evenkeel").typescript(false).remove_name_section(true);
    bindgen.remove_producers_section(true);
    // One classic script serves the page, a worker begun from a blob, and a page opened from a file.
    bindgen
        .no_modules(true)
        .and_then(|bindgen| bindgen.generate(folder))
        .map_err(|error| format!("the bindings of {} cannot be written: {error:#}", module.display()))
}
