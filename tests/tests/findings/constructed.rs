//! Rules of the trade (common practice throughout) on runs that are made to show them.

use std::fmt::Write;
use std::sync::{Arc, OnceLock};

use evenkeel_core::findings::{
    Adjuster, Adjustment, Baseline, Certainty, Direction, Finding, FindingKind, FindingSettings, Limit,
    Limits, Step, findings,
};
use evenkeel_core::ride::{HitPair, SlipEpisode, SlipKind, Trace};
use evenkeel_core::track::{Course, RunDistance, Section};
use evenkeel_core::{
    Bike, Day, End, Log, Measured, NotMeasured, ResidualAllowance, RunReadout, RunSheet, analyse_now, import,
};

/// Half a minute at 8 m/s and 250 Hz over waves of 15 mm, and one bump after 15 s: how far it moves each end, mm.
fn over_one_bump(front_mm: f64, rear_mm: f64) -> RunReadout {
    const LAG_S: f64 = 1.25 / 8.0;
    let wave = |t: f64| 45.0 + 15.0 * (std::f64::consts::TAU * 8.0 * t / 3.0).sin();
    // Away from the bump's place no wave, so that its stroke is what is asked for.
    let calm = |t: f64| (((t - 15.15).abs() - 0.3) / 0.5).clamp(0.0, 1.0);
    let bump = |t: f64| {
        let into = (t - 15.0) / 0.3;
        if (0.0..1.0).contains(&into) { 0.5 - 0.5 * (std::f64::consts::TAU * into).cos() } else { 0.0 }
    };
    let travel = |t: f64, mm: f64| 20.0 + (wave(t) - 20.0) * calm(t) + mm * bump(t);
    let mut text = "time [s],front travel [mm],rear travel [mm],front wheel speed [m/s]\n".to_owned();
    for i in 0..7500 {
        let t = f64::from(i) / 250.0;
        let speed = 8.0 + 0.01 * (9.0 * t).sin();
        writeln!(text, "{t:.3},{:.2},{:.2},{speed:.3}", travel(t, front_mm), travel(t - LAG_S, rear_mm))
            .unwrap();
    }
    let sources: Vec<_> =
        import::read("log.csv", text.as_bytes()).unwrap().parts.into_iter().map(Arc::new).collect();
    let logs = vec![Log { file: "log.csv".to_owned(), ..Log::default() }];
    let bike = Bike { rear_travel_m: 0.225, ..Bike::default() };
    let mut day = Day { bike, runs: vec![RunSheet { logs, ..RunSheet::default() }], ..Day::default() };
    let traces = analyse_now(&day, &day.runs[0], &sources).traces.unwrap();
    let distance = RunDistance::of(&traces).unwrap();
    let section = |name: &str, start_s: f64, end_s: f64| Section {
        name: name.to_owned(),
        start_m: distance.at_time_m(start_s).unwrap(),
        end_m: distance.at_time_m(end_s).unwrap(),
        no_braking: false,
    };
    day.sections = vec![section("the waves", 1.0, 12.0), section("the step", 12.0, 18.0)];
    day.course = Some(Course::along(&distance, traces.get(Trace::YawRate)));
    analyse_now(&day, &day.runs[0], &sources).readout
}

/// A run in which nothing is wrong.
fn in_order() -> RunReadout {
    static RUN: OnceLock<RunReadout> = OnceLock::new();
    RUN.get_or_init(|| over_one_bump(150.0, 150.0)).clone()
}

fn found(run: &RunReadout) -> Vec<Finding> {
    findings(run, &Bike::default(), &FindingSettings::default())
}

fn kinds(found: &[Finding]) -> Vec<FindingKind> {
    found.iter().map(|finding| finding.kind).collect()
}

fn proposed(found: &[Finding]) -> Vec<&Step> {
    found.iter().map(|finding| &finding.advice.step).filter(|step| step.proposes()).collect()
}

fn turn(adjuster: Adjuster, end: End, direction: Direction) -> Adjustment {
    Adjustment { adjuster, end, direction }
}

#[test]
fn a_run_in_order_accuses_nobody() {
    assert_eq!(found(&in_order()), []);
}

#[test]
fn a_front_of_150_mm_and_a_rear_of_200_mm_on_one_big_bump_are_uneven_at_that_place() {
    let run = over_one_bump(150.0, 180.0);
    assert_eq!(kinds(&run.findings), [], "a sixth more is none: {:#?}", run.findings);
    let run = over_one_bump(150.0, 200.0);
    let pairs = run.sections[0].level.hit_pairs.hit_pairs.get().unwrap();
    let big = pairs.iter().max_by(|a, b| a.rear_stroke_m.total_cmp(&b.rear_stroke_m)).unwrap();
    println!("{big:?}");
    let uneven = run.findings.iter().find(|finding| finding.kind == FindingKind::UnevenHit).unwrap();
    assert_eq!(uneven.section, "the step");
    assert!((uneven.moments[0].start_s - 15.0).abs() < 0.3, "{:?}", uneven.moments);
    println!("{}", uneven.statement);
    // One bump is no setting.
    assert!(!uneven.advice.step.proposes());
}

/// Sideways shake of `shake_mps2` and top-outs right after `front` and `rear` of 400 hits.
fn shaking(shake_mps2: f64, [front, rear]: [usize; 2]) -> RunReadout {
    let mut run = in_order();
    let whole = &mut run.sections[0];
    whole.lateral.shake_rms_mps2 = Measured::value(shake_mps2).with_n(300);
    whole.front.rebound.early_top_outs = Measured::value(front).with_n(400);
    whole.rear.rebound.early_top_outs = Measured::value(rear).with_n(400);
    run
}

#[test]
fn shake_with_early_top_outs_means_rebound_too_fast_and_proposes_slower() {
    let found = found(&shaking(2.5, [0, 30]));
    assert_eq!(kinds(&found), [FindingKind::ReboundTooFast]);
    assert_eq!(found[0].end, Some(End::Rear));
    assert_eq!(found[0].advice.step, Step::Adjust(turn(Adjuster::Rebound, End::Rear, Direction::More)));
    assert!(found[0].advice.step.words().contains("slower rebound"), "{}", found[0].advice.step.words());
}

#[test]
fn shake_with_rebound_in_order_looks_elsewhere() {
    let found = found(&shaking(2.5, [0, 1]));
    assert_eq!(kinds(&found), [FindingKind::Shakes]);
    assert!(matches!(&found[0].advice.step, Step::Inspect(words) if words.contains("tyre pressures")));
    assert_eq!(self::found(&shaking(0.6, [0, 1])), []);
}

#[test]
fn both_ends_alike_are_a_choice_and_only_one_step() {
    let found = found(&shaking(2.5, [30, 30]));
    assert_eq!(kinds(&found), [FindingKind::ReboundTooFast; 2]);
    let slower = |end| turn(Adjuster::Rebound, end, Direction::More);
    let Step::OneOf(choice) = proposed(&found)[0] else { panic!("{found:#?}") };
    assert_eq!(choice.len(), 2);
    assert!(End::BOTH.into_iter().all(|end| choice.contains(&slower(end))));
    assert_eq!(proposed(&found).len(), 1);
    assert!(matches!(&found[1].advice.step, Step::Later(_)));
}

/// The rear wheel slides half a second for each of these: so long of it slipping by 80 % or more, s.
fn locking(locked_s: &[f64]) -> RunReadout {
    let mut run = in_order();
    let lock_up = |(place, locked_s): (usize, &f64)| SlipEpisode {
        start_s: 3.0 * place as f64,
        end_s: 3.0 * place as f64 + 0.5,
        kind: SlipKind::LockUp,
        suspected: false,
        slip_max: 1.0,
        locked_s: *locked_s,
    };
    run.sections[0].rear_wheel.episodes = Measured::value(locked_s.iter().enumerate().map(lock_up).collect());
    run
}

#[test]
fn lock_ups_count_by_how_long_the_wheel_stood_and_not_by_how_long_it_slid() {
    let counts = Limits::default().get(Limit::LockedTime);
    let short = 0.96 * counts;
    assert_eq!(found(&locking(&[short; 9])), []);
    assert_eq!(found(&locking(&[counts, counts, counts, short])), []);
    let found = found(&locking(&[counts, short, counts, 0.4, counts]));
    assert_eq!(kinds(&found), [FindingKind::RearLocks]);
    let told: Vec<(f64, Option<usize>)> = found[0].evidence.iter().map(|told| (told.value, told.n)).collect();
    assert_eq!(told[0], (4.0, Some(4)));
    assert!((told[1].0 - 3.0 * counts - 0.4).abs() < 1e-9, "{told:?}");
    // The longest first.
    assert_eq!(found[0].moments[0].start_s, 9.0);
}

/// The fork dives by this share of its travel.
fn diving(mut run: RunReadout, share: f64) -> RunReadout {
    let dive = &mut run.sections[0].dive;
    dive.rise_share = Measured::value(share).with_n(12).with_interval([share - 0.02, share + 0.02]);
    dive.rise_m = Measured::value(0.2 * share).with_n(12);
    run
}

#[test]
fn dive_proposes_a_little_air_pressure_or_a_step_of_slow_compression_and_not_both() {
    let found = found(&diving(in_order(), 0.5));
    assert_eq!(kinds(&found), [FindingKind::Dives]);
    let firmer = |adjuster| turn(adjuster, End::Front, Direction::More);
    let choice = vec![firmer(Adjuster::Spring), firmer(Adjuster::SlowCompression)];
    assert_eq!(found[0].advice.step, Step::OneOf(choice));
    assert!(found[0].advice.step.words().starts_with("one of these, not more"));
    assert!(found[0].advice.cautions.iter().any(|caution| caution.contains("makers' limits")));
    assert_eq!(self::found(&diving(in_order(), 0.3)), []);
}

#[test]
fn over_the_whole_list_one_adjustment_is_proposed_and_the_rest_waits() {
    let found = found(&diving(shaking(2.5, [0, 30]), 0.5));
    assert_eq!(kinds(&found), [FindingKind::ReboundTooFast, FindingKind::Dives]);
    assert_eq!(proposed(&found).len(), 1);
    assert!(found[0].advice.step.proposes());
    assert!(matches!(&found[1].advice.step, Step::Later(waiting) if waiting.len() == 2));
}

#[test]
fn what_asks_for_opposite_turns_is_shown_as_a_choice() {
    // The fork never goes deep, and dives: less spring, or more.
    let mut run = diving(in_order(), 0.5);
    run.sections[0].time_s = 120.0;
    run.sections[0].front.travel.travel_max_share = Measured::value(0.5);
    let found = found(&run);
    assert_eq!(kinds(&found), [FindingKind::TooFirm, FindingKind::Dives]);
    let Step::OneOf(choice) = &found[0].advice.step else { panic!("{found:#?}") };
    let spring = |direction| turn(Adjuster::Spring, End::Front, direction);
    assert!(choice.contains(&spring(Direction::More)) && choice.contains(&spring(Direction::Less)));
    assert_eq!(proposed(&found).len(), 1);
}

/// A log of brakes alone, the rear keeping `residual_bar` with its lever off.
fn rubbing(residual_bar: f64, allowance_pa: f64) -> RunReadout {
    let mut text = "time [s],front brake [bar],rear brake [bar]\n".to_owned();
    for i in 0..6000 {
        let t = f64::from(i) / 100.0;
        // No hand holds a lever so still that the sensor would seem to be at its end.
        let pull = if t % 10.0 < 1.0 && t > 5.0 { 12.0 + 0.02 * t + (7.0 * t).sin() } else { 0.0 };
        let rear = pull + if t > 8.0 { residual_bar } else { 0.0 };
        writeln!(text, "{t:.2},{pull:.2},{rear:.2}").unwrap();
    }
    let sources: Vec<_> =
        import::read("log.csv", text.as_bytes()).unwrap().parts.into_iter().map(Arc::new).collect();
    let logs = vec![Log { file: "log.csv".to_owned(), ..Log::default() }];
    let rear_residual = ResidualAllowance { rms_pa: allowance_pa, accepted: true };
    let bike = Bike { rear_residual, ..Bike::default() };
    let day = Day { bike, runs: vec![RunSheet { logs, ..RunSheet::default() }], ..Day::default() };
    analyse_now(&day, &day.runs[0], &sources).readout
}

#[test]
fn residual_within_the_allowance_is_no_fault_and_beyond_it_is() {
    assert_eq!(rubbing(0.3, 0.4e5).findings, []);
    let over = rubbing(0.3, 0.2e5).findings;
    assert_eq!(kinds(&over), [FindingKind::BrakeResidual]);
    assert_eq!(over[0].end, Some(End::Rear));
    assert!(over[0].advice.cautions.iter().any(|caution| caution.contains("qualified mechanic")));
    assert!(!over[0].advice.step.proposes());
}

#[test]
fn a_limit_that_the_owner_sets_is_the_one_that_counts() {
    let run = diving(in_order(), 0.3);
    let mut limits = Limits::default();
    limits.set(Limit::DiveShare, Some(0.2));
    let settings = FindingSettings { limits, ..FindingSettings::default() };
    let found = findings(&run, &Bike::default(), &settings);
    assert_eq!(kinds(&found), [FindingKind::Dives]);
    assert_eq!(found[0].evidence[0].limit.unwrap().at, 0.2);
    // It stays with the day, and a day from before reads as it did.
    let day = Day { findings: settings, ..Day::default() };
    let kept: Day = serde_json::from_str(&serde_json::to_string(&day).unwrap()).unwrap();
    assert_eq!(kept, day);
    let without = serde_json::to_string(&Day::default()).unwrap();
    assert!(!without.contains("findings"));
    assert_eq!(serde_json::from_str::<Day>(&without).unwrap(), Day::default());
    // What a later version may add is kept, not refused.
    let newer: Limits = serde_json::from_str(r#"{"dive_share":0.3,"of_tomorrow":7.0}"#).unwrap();
    assert_eq!(newer.get(Limit::DiveShare), 0.3);
    assert!(serde_json::to_string(&newer).unwrap().contains("of_tomorrow"));
}

#[test]
fn every_limit_says_what_it_is_and_has_a_key_of_its_own() {
    let mut keys: Vec<&str> = Limit::ALL.iter().map(|limit| limit.key()).collect();
    keys.sort_unstable();
    keys.dedup();
    assert_eq!(keys.len(), Limit::ALL.len());
    for limit in Limit::ALL {
        assert!(limit.sentence().ends_with('.') && limit.default_value() > 0.0, "{limit:?}");
    }
}

/// An end whose rebound rate is this, 1/s, well known.
fn with_rate(mut run: RunReadout, rate_per_s: f64) -> RunReadout {
    let rate = Measured::value(rate_per_s).with_n(200).with_interval([0.95 * rate_per_s, 1.05 * rate_per_s]);
    run.sections[0].rear.rebound.rebound_rate_per_s = rate;
    run
}

#[test]
fn what_an_earlier_run_shows_counts_for_more_than_a_number_from_elsewhere() {
    let mut usual = with_rate(in_order(), 26.0);
    usual.name = "the good one".to_owned();
    let settings =
        FindingSettings { baseline: Baseline::of_readouts([&usual]), ..FindingSettings::default() };
    let run = with_rate(in_order(), 26.0);
    assert_eq!(findings(&run, &Bike::default(), &settings), []);
    let slower = findings(&with_rate(in_order(), 15.0), &Bike::default(), &settings);
    assert_eq!(kinds(&slower), [FindingKind::ReboundTooSlow]);
    assert_eq!(slower[0].confidence.level, Certainty::Clear);
    assert_eq!(slower[0].confidence.compared_with, ["the good one"]);
    // A run is no measure of itself, nor one ridden at another pace.
    let mut same = with_rate(in_order(), 15.0);
    same.name = "the good one".to_owned();
    assert_eq!(findings(&same, &Bike::default(), &settings), []);
    let mut slow = with_rate(in_order(), 15.0);
    slow.sections[0].time_s *= 1.4;
    assert_eq!(findings(&slow, &Bike::default(), &settings), []);
}

/// The rear comes back this fast for how fast it is pushed in, goes so far past ride height, and tops out early after so
/// many of 400 hits.
fn coming_back(ratio: f64, overshoot_m: f64, early: usize) -> RunReadout {
    let mut run = with_rate(in_order(), if ratio < 0.5 { 2.0 } else { 60.0 });
    let rear = &mut run.sections[0].rear;
    rear.axle_speed.compression_speed_p95_mps = Measured::value(2.0);
    rear.axle_speed.rebound_speed_p95_mps = Measured::value(2.0 * ratio);
    rear.rebound.overshoot_p50_m = Measured::value(overshoot_m).with_n(200);
    rear.rebound.early_top_outs = Measured::value(early).with_n(400);
    run
}

#[test]
fn without_an_earlier_run_it_takes_two_signs_that_agree_and_never_the_rebound_rate() {
    assert_eq!(found(&coming_back(0.6, 0.012, 0)), []);
    assert_eq!(found(&coming_back(0.9, 0.02, 30)), [], "without shake");
    let slow = found(&coming_back(0.3, 0.003, 0));
    assert_eq!(kinds(&slow), [FindingKind::ReboundTooSlow]);
    assert_eq!(slow[0].end, Some(End::Rear));
    // Only a simulated bike stands behind these limits.
    assert_ne!(slow[0].confidence.level, Certainty::Clear);
    assert!(slow[0].evidence[..2].iter().all(|sign| sign.limit.is_some()), "{:#?}", slow[0].evidence);
    for one_is_missing in [coming_back(0.6, 0.003, 0), coming_back(0.3, 0.012, 0)] {
        assert_eq!(found(&one_is_missing), []);
    }
    // Hits that are met before the end is back are a second sign too.
    let mut met = coming_back(0.3, 0.012, 0);
    met.sections[0].rear.recovery.all.not_recovered_share = Measured::value(0.4).with_n(200);
    assert_eq!(kinds(&found(&met)), [FindingKind::ReboundTooSlow]);
}

#[test]
fn of_two_ends_whose_rebound_is_off_the_one_farther_off_comes_first() {
    let settings = |usual: &RunReadout| {
        let usual = RunReadout { name: "the good one".to_owned(), ..usual.clone() };
        FindingSettings { baseline: Baseline::of_readouts([&usual]), ..FindingSettings::default() }
    };
    let rates = |front, rear| {
        let mut run = with_rate(in_order(), rear);
        run.sections[0].front.rebound.rebound_rate_per_s = Measured::value(front).with_n(200);
        run
    };
    let found = findings(&rates(10.0, 25.0), &Bike::default(), &settings(&rates(20.0, 20.0)));
    assert_eq!(kinds(&found), [FindingKind::ReboundTooSlow, FindingKind::ReboundTooFast]);
    let found = findings(&rates(14.0, 40.0), &Bike::default(), &settings(&rates(20.0, 20.0)));
    assert_eq!(kinds(&found), [FindingKind::ReboundTooFast, FindingKind::ReboundTooSlow]);
}

#[test]
fn what_is_not_measured_is_not_found() {
    let mut run = diving(shaking(2.5, [30, 30]), 0.5);
    let why = NotMeasured::because("the sensor was taken off");
    let whole = &mut run.sections[0];
    whole.lateral.shake_rms_mps2 = Measured::not(why.clone());
    whole.dive.rise_share = Measured::not(why.clone());
    whole.level.hit_pairs.hit_pairs = Measured::<Vec<HitPair>>::not(why);
    assert_eq!(found(&run), []);
    run.sections.clear();
    assert_eq!(found(&run), []);
}
