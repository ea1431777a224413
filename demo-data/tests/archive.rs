//! The earlier days.

use std::collections::HashSet;

use evenkeel_demo_data::archive::{degrees_of_freedom, record, runs, setups};
use evenkeel_demo_data::day::{HILL_SEED, plans};

/// Scatter pooled within days (any text on analysis of variance): runs less the days' setups.
#[test]
fn the_scatter_from_run_to_run_has_twenty_degrees_of_freedom() {
    let runs = runs();
    let groups: HashSet<(&str, usize)> = runs.iter().map(|run| (run.date, run.setup)).collect();
    assert_eq!(degrees_of_freedom(), runs.len() - groups.len());
    assert!(degrees_of_freedom() >= 20, "{}", degrees_of_freedom());
    let most = runs.iter().filter(|run| run.setup == 0).count();
    assert!(most > 20, "{most} repeats of the winter's setup");
    // Which is the one that the demo day begins with.
    assert_eq!(setups()[0], plans()[0].setup);
    assert_eq!(setups()[1], plans()[1].setup);
}

#[test]
fn every_run_is_its_own_on_the_same_hill() {
    let runs = runs();
    let mut seeds: HashSet<u64> = plans().iter().map(|plan| plan.seed).collect();
    let mut names = HashSet::new();
    for run in &runs {
        assert!(seeds.insert(run.plan.seed), "{run:?}");
        assert!(names.insert((run.date, run.plan.name)), "{run:?}");
        assert_eq!(run.plan.setup, setups()[run.setup]);
        assert_eq!(run.plan.run().hill_seed, HILL_SEED);
        assert!((0.96..1.02).contains(&run.plan.pace), "{run:?}");
    }
    assert!(runs.windows(2).all(|pair| pair[0].date <= pair[1].date));
    let paces: HashSet<u64> = runs.iter().map(|run| run.plan.pace.to_bits()).collect();
    assert_eq!(paces.len(), runs.len());
}

#[test]
fn a_run_can_be_ridden_and_logged_and_a_missing_one_not() {
    assert!(record(runs().len()).is_none());
    let recording = record(4).unwrap();
    assert!(recording.suspension_text.lines().count() > 40_000);
    assert!(recording.motion_text.lines().count() > 15_000);
    assert!(recording.truth.duration_s() > 150.0);
}
