//! A small form of the count that `cargo xtask bench findings` makes in full: a few runs that no limit was set on, one
//! of the bikes built like none that a limit has seen.

use evenkeel_core::findings::FindingKind;
use evenkeel_demo_data::bike::End;
use evenkeel_demo_data::fault::{Fault, Kind, Severity};
use evenkeel_demo_data::variation::Case;
use evenkeel_tests::simulated::{COUNTED, FITTING, Owner, called, expected, is_of_sensor};

/// Rides a run without a fault and one with each of these, and reads what comes first.
fn each_is_named_first(split: usize, faults: &[(Kind, Option<End>)]) {
    let case = Case { split: COUNTED[split], number: 3 };
    let owner = Owner::of(case).unwrap().expect("this owner stays up");
    let plain = owner.ride(1, None).expect("this owner stays up");
    let healthy = owner.found(&owner.read(&plain, None).unwrap(), true);
    assert!(healthy.is_empty(), "{case:?} accused: {healthy:#?}");
    for &(kind, end) in faults {
        let fault = Fault { kind, end, severity: Severity::Clear };
        let ridden = if is_of_sensor(kind) { None } else { owner.ride(1, Some(fault)) };
        let run = owner.read(ridden.as_ref().unwrap_or(&plain), Some(fault)).unwrap();
        let found = owner.found(&run, true);
        let names: Vec<_> = found.iter().map(called).collect();
        println!("{case:?} {kind:?} {end:?}: {names:?}");
        assert_eq!(names.first(), Some(&expected(fault)), "{fault:?}: {names:?}");
        let proposing = found.iter().filter(|finding| finding.advice.step.proposes()).count();
        assert!(proposing <= 1, "{fault:?}: {found:#?}");
        // Nothing is turned on the word of a doubted sensor.
        let doubted = found.iter().position(|finding| finding.kind == FindingKind::SensorDoubt);
        assert!(doubted.is_none_or(|at| at == 0));
    }
}

#[test]
fn faults_of_a_bike_like_those_the_limits_were_set_on_come_first() {
    let faults = [
        (Kind::ReboundTooFast, Some(End::Front)),
        (Kind::SpringTooSoft, Some(End::Rear)),
        (Kind::AirLoss, Some(End::Front)),
        (Kind::ZeroMoved, Some(End::Rear)),
        (Kind::TravelNoisy, Some(End::Front)),
    ];
    each_is_named_first(0, &faults);
}

#[test]
fn faults_of_a_bike_built_differently_come_first() {
    let faults = [
        (Kind::ReboundTooSlow, Some(End::Rear)),
        (Kind::Drag, Some(End::Front)),
        (Kind::RearLocks, Some(End::Rear)),
        (Kind::EndsSwapped, None),
    ];
    each_is_named_first(1, &faults);
}

#[test]
fn no_run_is_both_fitted_on_and_counted() {
    assert!(!COUNTED.contains(&FITTING));
    let seeds = |split| {
        (0..30).flat_map(move |number| {
            let case = Case { split, number };
            [case.hill_seed(), case.run(0).seed, case.run(1).seed, case.run(2).seed]
        })
    };
    let fitted: Vec<u64> = seeds(FITTING).collect();
    for split in COUNTED {
        assert!(seeds(split).all(|seed| !fitted.contains(&seed)), "{split:?}");
        let track = |split| format!("{:?}", Case { split, number: 3 }.track().sections);
        assert_ne!(track(split), track(FITTING));
    }
}
