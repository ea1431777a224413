//! Coverage-guided fuzzing of one parser, the one in `EVENKEEL_PARSER`; `cargo xtask fuzz` builds and runs it.
#![no_main]

use std::sync::LazyLock;

use evenkeel_fuzz::Parser;

static PARSER: LazyLock<Parser> = LazyLock::new(|| {
    let name = std::env::var("EVENKEEL_PARSER").unwrap_or_default();
    Parser::named(&name)
        .unwrap_or_else(|| panic!("EVENKEEL_PARSER is `{name}`, no parser: run `cargo xtask fuzz`"))
});

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| (PARSER.try_on)(bytes));
