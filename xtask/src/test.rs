//! Sets up what is missing and runs every test.

use std::time::{Duration, Instant};

use crate::program::run;
use crate::{Failure, browser, checkout, dist, engines, python};

/// Every check, in order of how soon it can fail; stops at the first that does.
pub fn test() -> Result<(), Failure> {
    let mut steps = Steps::default();
    let outcome = all(&mut steps);
    print!("\n{}", steps.table());
    outcome
}

fn all(steps: &mut Steps) -> Result<(), Failure> {
    steps.step("format", || run(checkout::cargo().args(["fmt", "--check"])))?;
    steps.step("lints", || {
        let lints = ["clippy", "--locked", "--workspace", "--all-targets", "--", "-Dwarnings"];
        run(checkout::cargo().args(lints))
    })?;
    let site = steps.step("site", dist::dist)?;
    let python = steps.step("reference libraries", python::set_up)?;
    let browser = steps.step("browser", browser::set_up)?;
    let mut cargo = checkout::cargo();
    cargo.env("EVENKEEL_SITE", site).env("EVENKEEL_PYTHON", python);
    cargo.env("EVENKEEL_CHROME", browser.browser).env("EVENKEEL_CHROMEDRIVER", browser.driver);
    let mut left_out = Vec::new();
    for engine in steps.step("other engines", || Ok(engines::set_up()))? {
        match engine.program {
            Ok(program) => {
                cargo.env(engine.variable, program);
            }
            Err(why) => {
                println!("NOT TESTED in {}, which not every system has: {why}.", engine.name);
                left_out.extend(["--skip", engine.tests]);
            }
        }
    }
    steps.step("tests, built", || {
        run(checkout::cargo().args(["test", "--locked", "--workspace", "--no-run", "--quiet"]))
    })?;
    steps.step("tests, run", || {
        run(cargo.args(["test", "--locked", "--workspace", "--no-fail-fast"]).arg("--").args(left_out))
    })
}

/// What was done and how long it took.
#[derive(Default)]
struct Steps(Vec<(&'static str, Duration, bool)>);

impl Steps {
    fn step<T>(
        &mut self,
        name: &'static str,
        work: impl FnOnce() -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        println!("\n== {name}");
        let start = Instant::now();
        let outcome = work();
        let took = start.elapsed();
        println!("== {name}: {:.1} s", took.as_secs_f64());
        self.0.push((name, took, outcome.is_ok()));
        outcome
    }

    fn table(&self) -> String {
        let mut table = format!("{:<20} {:>8}\n", "step", "seconds");
        for (name, took, passed) in &self.0 {
            let mark = if *passed { "" } else { "  failed" };
            table += &format!("{name:<20} {:>8.1}{mark}\n", took.as_secs_f64());
        }
        let total: Duration = self.0.iter().map(|(_, took, _)| *took).sum();
        table + &format!("{:<20} {:>8.1}\n", "together", total.as_secs_f64())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_step_is_timed_marked_and_handed_on() {
        let mut steps = Steps::default();
        assert_eq!(steps.step("one", || Ok(1)), Ok(1));
        assert_eq!(steps.step::<()>("two", || Err("broken".to_owned())), Err("broken".to_owned()));
        let table = steps.table();
        let marked: Vec<bool> = table.lines().map(|line| line.ends_with("failed")).collect();
        assert_eq!(marked, [false, false, true, false], "{table}");
    }
}
