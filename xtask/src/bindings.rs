//! The JavaScript side of the app's modules, and what of a module is fetched later.

use std::path::Path;
use std::{fs, io};

use walrus::ModuleConfig;
use wasm_bindgen_cli_support::Bindgen;
use wasm_split_cli_support::Options;

use crate::dist::cannot;
use crate::{Failure, checkout};

/// The program that is split; its later part is called by this name, as in `app/src/later.rs`.
const SPLIT: &str = "page";
const LATER: &str = "later";
/// What the split module asks for its later part, by a name that no file has.
const LOADER: &str = "later-parts";

/// Writes `<name>.js` and `<name>_bg.wasm` into the folder, and `later_bg.wasm` where the program is split.
pub fn write(module: &Path, name: &str, folder: &Path) -> Result<(), Failure> {
    let bindings = checkout::locked_version("wasm-bindgen")?;
    let library = checkout::locked_version("wasm-bindgen-cli-support")?;
    if bindings != library {
        return Err(format!(
            "Cargo.lock has wasm-bindgen {bindings} but wasm-bindgen-cli-support {library}: give both the same \
             version in Cargo.toml and run `cargo update --workspace`."
        ));
    }
    if name != SPLIT {
        return bind(module, name, folder, false);
    }
    let first = folder.join("first.wasm");
    split(module, &first, folder)?;
    bind(&first, name, folder, true)?;
    fs::remove_file(&first).map_err(|error| cannot("be removed", &first, &error))?;
    ask_for_later(&folder.join(name).with_extension("js"))
}

fn bind(module: &Path, name: &str, folder: &Path, is_split: bool) -> Result<(), Failure> {
    let mut bindgen = Bindgen::new();
    bindgen.input_path(module).out_name(name).typescript(false).remove_name_section(true);
    // What comes later uses this module's memory, stack and table.
    bindgen.remove_producers_section(true).keep_lld_exports(is_split);
    // Classic scripts serve a page, a worker begun from a blob, and a page opened from a file.
    bindgen
        .no_modules(true)
        .and_then(|bindgen| bindgen.generate(folder))
        .map_err(|error| format!("the bindings of {} cannot be written: {error:#}", module.display()))
}

/// Parts a module into what a page begins with and `later_bg.wasm`.
fn split(module: &Path, first: &Path, folder: &Path) -> Result<(), Failure> {
    let failed = |what: String| format!("{} cannot be split: {what}", module.display());
    let bytes = fs::read(module).map_err(|error| cannot("be read", module, &error))?;
    let mut options = Options::new(&bytes);
    options.output_dir = folder;
    options.main_out_path = first;
    options.link_name = LOADER;
    let parts = wasm_split_cli_support::transform(options).map_err(|error| failed(format!("{error:#}")))?;
    let [later] = parts.split_modules.as_slice() else {
        return Err(failed(format!(
            "{} parts come later, where there must be one",
            parts.split_modules.len()
        )));
    };
    // Written anew its numbers take no more room than they need.
    let mut small = ModuleConfig::new()
        .generate_name_section(false)
        .generate_producers_section(false)
        .parse_file(later)
        .map_err(|error| failed(format!("{error:#}")))?;
    let io = |done: io::Result<()>, file: &Path| done.map_err(|error| cannot("be written", file, &error));
    let out = folder.join(format!("{LATER}_bg.wasm"));
    io(fs::write(&out, small.emit_wasm()), &out)?;
    io(fs::remove_file(later), later)?;
    let glue = folder.join(LOADER);
    io(fs::remove_file(&glue), &glue)
}

/// Classic scripts import nothing: what loads the later part is `boot.js`.
fn ask_for_later(script: &Path) -> Result<(), Failure> {
    let text = fs::read_to_string(script).map_err(|error| cannot("be read", script, &error))?;
    let import = format!("require(\"{LOADER}\")");
    if text.matches(&import).count() != 1 {
        return Err(format!("{} must ask once for {LOADER}", script.display()));
    }
    let loader = format!("({{ __wasm_split_load_{LATER}: (...told) => beside.add(\"{LATER}\", ...told) }})");
    fs::write(script, text.replace(&import, &loader)).map_err(|error| cannot("be written", script, &error))
}
