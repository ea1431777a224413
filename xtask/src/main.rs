//! The project's commands. `cargo xtask` lists them.

mod apt;
mod bench;
mod bindings;
mod browser;
mod checkout;
mod dist;
mod engines;
mod fuzz;
mod hosted;
mod parts;
mod program;
mod python;
mod serve;
mod single;
mod test;
mod wasm;

use std::process::ExitCode;

/// One sentence that says what is wrong and what to do.
type Failure = String;

const USAGE: &str = "\
cargo xtask serve [--port N]   build the site and serve it on this machine
cargo xtask test               set up what is missing and run every test
cargo xtask dist               build the static site, and the same as one HTML file
cargo xtask bench [NAME [PART]...]
                               time reading, analysing and drawing beside peers: all, or one bench, or parts of it
cargo xtask fuzz [EXECUTIONS] [PARSER...]
                               try every parser, or those named, on inputs that reach ever further into it
";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = match arguments[..] {
        ["dist"] => dist::dist().map(|site| {
            println!("The site is in {}; {} there is the whole of it", site.display(), dist::ONE_FILE)
        }),
        ["serve"] => serve::serve(None),
        ["serve", "--port", port] => match port.parse() {
            Ok(port) => serve::serve(Some(port)),
            Err(_) => Err(format!("`{port}` is not a port: give a number from 1 to 65535")),
        },
        ["test"] => test::test(),
        ["bench", ref names @ ..] => bench::bench(names),
        ["fuzz", ref words @ ..] => fuzz::fuzz(words),
        [] | ["help" | "--help" | "-h"] => {
            print!("{USAGE}");
            Ok(())
        }
        _ => Err(format!("there is no command `{}`; these there are:\n{USAGE}", arguments.join(" "))),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("{failure}");
            ExitCode::FAILURE
        }
    }
}
