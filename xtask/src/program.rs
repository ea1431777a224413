//! Finds and runs other programs.

use std::path::PathBuf;
use std::process::{Command, Stdio};

use crate::Failure;

/// Runs to the end, with the output on the screen.
pub fn run(command: &mut Command) -> Result<(), Failure> {
    match command.status() {
        Ok(status) if status.success() => Ok(()),
        Ok(status) => Err(format!("{} failed ({status})", words(command))),
        Err(error) => Err(format!("{} could not be started: {error}", words(command))),
    }
}

/// What the program prints, without the last line break; nothing if it fails.
pub fn output(command: &mut Command) -> Option<String> {
    let output = command.stdin(Stdio::null()).stderr(Stdio::null()).output().ok()?;
    let text = String::from_utf8(output.stdout).ok()?;
    output.status.success().then(|| text.trim_end().to_owned())
}

/// Where a program of this name is, looking through PATH as a shell would.
pub fn find(name: &str) -> Option<PathBuf> {
    let file = format!("{name}{}", std::env::consts::EXE_SUFFIX);
    std::env::split_paths(&std::env::var_os("PATH")?)
        .map(|folder| folder.join(&file))
        .find(|path| path.is_file())
}

fn words(command: &Command) -> String {
    let program = command.get_program();
    let all = std::iter::once(program).chain(command.get_args());
    format!("`{}`", all.map(|word| word.to_string_lossy()).collect::<Vec<_>>().join(" "))
}
