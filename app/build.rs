//! Asks the linker for what splitting the page's module needs.

fn main() {
    println!("cargo::rerun-if-changed=build.rs");
    if std::env::var("CARGO_CFG_TARGET_FAMILY").is_ok_and(|family| family == "wasm") {
        println!("cargo::rustc-link-arg-bin=page=--emit-relocs");
    }
}
