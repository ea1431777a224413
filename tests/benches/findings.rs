//! How often the first finding names what is wrong: runs of other bikes on other tracks, each with a fault or none, that
//! no limit of the findings was set on.
//!
//! `clear`, `light` and `healthy` as arguments choose what is counted; a range of numbers (`0-4`) which owners.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU16, Ordering};

use evenkeel_core::signal::wilson;
use evenkeel_demo_data::fault::{Fault, Severity};
use evenkeel_demo_data::variation::{Case, Split};
use evenkeel_tests::simulated::{COUNTED, Called, Owner, called, expected, is_of_sensor};

/// The first owner counted: runs of those below were looked at while rules and limits were made.
const FIRST: u16 = 150;
/// Owners of each kind of bike whose runs get faults, so that each fault is ridden 60 times at each end.
const FAULTY: u16 = 30;
/// Owners of each kind of bike who ride without one, 200 in all.
const HEALTHY: u16 = 100;
/// Clear faults that the first finding names, with their end.
const NAMED_GOAL: f64 = 0.95;
/// Runs in order in which anything is found.
const ACCUSED_GOAL: f64 = 0.02;

/// Of one fault on one kind of bike: how often each finding came first, compared with the owner's first run and alone.
type Counts = BTreeMap<(String, &'static str), [BTreeMap<String, usize>; 2]>;

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    // `cargo test --benches` only asks whether it runs.
    if !arguments.iter().any(|argument| argument == "--bench") {
        return;
    }
    let parts: Vec<&str> =
        arguments.iter().map(String::as_str).filter(|part| !part.starts_with("--")).collect();
    let owners =
        parts.iter().find_map(|part| range(part)).unwrap_or(0..HEALTHY.max(FAULTY)).map(|nth| FIRST + nth);
    let chosen = |part: &str| parts.iter().all(|other| range(other).is_some()) || parts.contains(&part);
    let severities: Vec<Severity> = [("clear", Severity::Clear), ("light", Severity::Light)]
        .into_iter()
        .filter_map(|(part, severity)| chosen(part).then_some(severity))
        .collect();
    let counts = Mutex::new(Counts::new());
    let next = AtomicU16::new(0);
    let cases: Vec<Case> = owners.flat_map(|number| COUNTED.map(|split| Case { split, number })).collect();
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                while let Some(case) = cases.get(usize::from(next.fetch_add(1, Ordering::Relaxed))) {
                    ride(*case, &severities, chosen("healthy"), &counts);
                }
            });
        }
    });
    let counts = counts.into_inner().unwrap();
    for (title, index) in [("compared with an earlier run of the same bike", 0), ("without one", 1)] {
        print(title, &counts, index);
    }
}

fn range(part: &str) -> Option<Range<u16>> {
    let (from, to) = part.split_once('-')?;
    Some(from.parse().ok()?..to.parse().ok()?)
}

/// All runs of one owner.
fn ride(case: Case, severities: &[Severity], healthy: bool, counts: &Mutex<Counts>) {
    let faults = |severity| Fault::all().filter(move |fault| fault.severity == severity).map(Some);
    let faulty = severities.iter().filter(|_| case.number < FIRST + FAULTY).copied();
    let mut wanted: Vec<Option<Fault>> = faulty.flat_map(faults).collect();
    wanted.extend((healthy && case.number < FIRST + HEALTHY).then_some(None));
    if wanted.is_empty() {
        return;
    }
    let Some(owner) = Owner::of(case).unwrap() else { return };
    // Light faults in a run of their own.
    let mut plain = [None, None];
    for fault in wanted {
        let repeat = if fault.is_some_and(|fault| fault.severity == Severity::Light) { 2 } else { 1 };
        let changed;
        let ridden = if fault.is_none_or(|fault| is_of_sensor(fault.kind)) {
            &*plain[repeat - 1].get_or_insert_with(|| owner.ride(repeat as u16, None))
        } else {
            changed = owner.ride(repeat as u16, fault);
            &changed
        };
        // Who falls every time has no run.
        let Some(ridden) = ridden else { continue };
        let run = owner.read(ridden, fault).unwrap();
        let first = [true, false].map(|compared| {
            owner
                .found(&run, compared)
                .first()
                .map_or_else(|| "nothing".to_owned(), |first| words(&called(first)))
        });
        let mut counts = counts.lock().unwrap();
        let bike =
            if case.split == Split::Unseen { "a bike built differently" } else { "bikes as for the limits" };
        let row = counts.entry((name(fault), bike)).or_default();
        for (counted, first) in row.iter_mut().zip(first) {
            *counted.entry(first).or_default() += 1;
        }
    }
}

fn words((name, end): &Called) -> String {
    end.map_or_else(|| name.clone(), |end| format!("{name} {}", end.name()))
}

/// A row's name begins with what should be found.
fn name(fault: Option<Fault>) -> String {
    fault.map_or_else(
        || "nothing, healthy".to_owned(),
        |fault| {
            let severity = if fault.severity == Severity::Clear { "clear" } else { "light" };
            format!("{}, {severity} {:?}", words(&expected(fault)), fault.kind)
        },
    )
}

fn print(title: &str, counts: &Counts, index: usize) {
    println!("\nFirst finding, {title}");
    let mut sums: BTreeMap<(&str, &str), [usize; 2]> = BTreeMap::new();
    let mut rows: BTreeMap<&str, BTreeMap<&str, usize>> = BTreeMap::new();
    for ((name, bike), counted) in counts {
        let row = rows.entry(name).or_default();
        counted[index].iter().for_each(|(found, count)| *row.entry(found).or_default() += count);
        let (wanted, of) = name.split_once(", ").unwrap_or((name, ""));
        let right = counted[index].get(wanted).copied().unwrap_or(0);
        let n: usize = counted[index].values().sum();
        for bike in [*bike, "all"] {
            let [sum_right, sum_n] = sums.entry((of.split(' ').next().unwrap_or(of), bike)).or_default();
            (*sum_right, *sum_n) = (*sum_right + right, *sum_n + n);
        }
    }
    for (name, row) in rows {
        let (wanted, of) = name.split_once(", ").unwrap_or((name, ""));
        let others: Vec<String> = row
            .iter()
            .filter(|(found, _)| **found != wanted)
            .map(|(found, count)| format!("{found} {count}"))
            .collect();
        let right = row.get(wanted).copied().unwrap_or(0);
        println!("  {of:<24} {wanted:<32} {} {}", share(right, row.values().sum()), others.join(", "));
    }
    for ((kind, bike), [right, n]) in sums {
        let goal = match kind {
            "clear" => format!("(goal: at least {:.0} %)", 100.0 * NAMED_GOAL),
            "healthy" => format!("(goal: at least {:.0} %)", 100.0 * (1.0 - ACCUSED_GOAL)),
            _ => String::new(),
        };
        println!("  {kind}, {bike}: {} {goal}", share(right, n));
    }
}

/// A count with its 95 % interval (Wilson 1927).
fn share(right: usize, n: usize) -> String {
    let [low, high] = wilson(right, n).unwrap_or([0.0, 1.0]).map(|share| 100.0 * share);
    let percent = 100.0 * right as f64 / n.max(1) as f64;
    format!("{right:>4}/{n:<4} {percent:5.1} % ({low:.1} to {high:.1})")
}
