//! Back to back: the distributions beside SciPy, and what the verdicts do on simulated days.

use evenkeel_core::Measured;
use evenkeel_core::decide::{
    Comparison, Direction, Evidence, ExploredMetric, Plan, RunToRun, RunValues, Scale, SectionValue, Verdict,
    compare, explore,
};
use evenkeel_core::signal::{
    DRAWS, Random, bootstrap_median, detectable_noncentrality, noncentral_t_upper_tail, q_values, t_cdf,
    t_quantile, t_upper_tail,
};
use evenkeel_tests::python::reference;

/// Every ours within `share` of theirs, or within `tiny`.
fn assert_near(name: &str, ours: &[f64], theirs: &[f64], share: f64, tiny: f64) {
    assert_eq!(ours.len(), theirs.len(), "{name}");
    for (k, (a, b)) in ours.iter().zip(theirs).enumerate() {
        assert!((a - b).abs() <= (share * b.abs()).max(tiny), "{name} {k}: {a} against {b}");
    }
}

/// Source: `scipy.stats.t` (`sf`, `cdf`, `ppf`), 1e-9; `scipy.stats.nct.sf`, 1e-9 of one.
#[test]
fn t_distributions_equal_scipy() {
    let t = [-40.0, -3.0, -0.5, 0.0, 1e-6, 0.1, 1.0, 2.086, 6.0, 50.0, 1e4];
    let df = [1.0, 2.0, 3.5, 4.0, 20.0, 120.0, 1e5];
    let p = [1e-12, 1e-5, 0.025, 0.05, 0.31, 0.5, 0.8, 0.975, 0.99999];
    let d = [-3.0, -0.4, 0.0, 0.7, 2.9, 4.5, 9.0];
    let with_df = |values: &[f64]| -> Vec<[f64; 2]> {
        values.iter().flat_map(|&value| df.map(|df| [value, df])).collect()
    };
    let (t_rows, p_rows) = (with_df(&t), with_df(&p));
    let noncentral: Vec<[f64; 3]> = with_df(&[-2.0, 0.0, 0.3, 2.0, 4.3, 12.7])
        .into_iter()
        .flat_map(|[t, df]| d.map(|d| [t, df, d]))
        .collect();
    let tests: Vec<[f64; 3]> = [1.0, 2.0, 4.0, 10.0, 20.0, 100.0]
        .into_iter()
        .flat_map(|df| [[df, 0.05, 0.8], [df, 0.1, 0.9]])
        .collect();
    let theirs = reference(
        "student_t",
        &[
            ("t", t_rows.as_flattened()),
            ("p", p_rows.as_flattened()),
            ("noncentral", noncentral.as_flattened()),
            ("tests", tests.as_flattened()),
        ],
    );
    let of = |rows: &[[f64; 2]], f: fn(f64, f64) -> f64| -> Vec<f64> {
        rows.iter().map(|&[value, df]| f(value, df)).collect()
    };
    assert_near("upper tail", &of(&t_rows, t_upper_tail), &theirs["upper_tail"], 1e-9, 1e-300);
    assert_near("cdf", &of(&t_rows, t_cdf), &theirs["cdf"], 1e-9, 1e-300);
    assert_near("quantile", &of(&p_rows, t_quantile), &theirs["quantile"], 1e-9, 1e-12);
    let ours: Vec<f64> = noncentral.iter().map(|&[t, df, d]| noncentral_t_upper_tail(t, df, d)).collect();
    assert_near("noncentral tail", &ours, &theirs["noncentral_upper_tail"], 0.0, 1e-9);
    let ours: Vec<f64> =
        tests.iter().map(|&[df, alpha, power]| detectable_noncentrality(df, alpha, power).unwrap()).collect();
    assert_near("detectable", &ours, &theirs["detectable"], 1e-6, 0.0);
}

/// Source: `scipy.stats.false_discovery_control`.
#[test]
fn q_values_equal_scipy() {
    let mut random = Random::seeded(1);
    let mut p: Vec<f64> = (0..60).map(|k| if k % 4 == 0 { 0.01 } else { 1.0 } * random.share()).collect();
    p.extend([p[0], p[3], 0.0, 1.0]);
    assert_near("q", &q_values(&p), &reference("false_discovery", &[("p", &p)])["q"], 1e-12, 0.0);
}

/// Source: `numpy.median` and `numpy.percentile` on the very same resamples; coverage beside
/// `scipy.stats.bootstrap(method='percentile')`.
#[test]
fn bootstrap_of_a_median_equals_numpy_and_covers_as_scipys() {
    let mut random = Random::seeded(8);
    let samples: Vec<f64> = (0..23).map(|_| 1.0 + 0.3 * normal(&mut random)).collect();
    let ours = bootstrap_median(&samples, 99).unwrap();
    let mut same = Random::seeded(99);
    let drawn: Vec<f64> = (0..DRAWS * samples.len()).map(|_| same.below(samples.len()) as f64).collect();
    const SET: usize = 20;
    let sets: Vec<f64> = (0..1500 * SET).map(|_| normal(&mut random)).collect();
    let theirs = reference(
        "bootstrap",
        &[("samples", &samples), ("drawn", &drawn), ("sets", &sets), ("set_size", &[SET as f64])],
    );
    assert_near("interval", &ours.interval, &theirs["interval"], 1e-12, 0.0);

    let covered = sets
        .chunks(SET)
        .filter(|set| bootstrap_median(set, 5).is_some_and(|b| b.interval[0] <= 0.0 && 0.0 <= b.interval[1]))
        .count() as f64
        / 1500.0;
    let theirs = theirs["covered"][0];
    println!("median of {SET}: covered {covered:.3}, scipy {theirs:.3}");
    // Binomial standard error of each: 0.006, and the sets are the same.
    assert!((covered - 0.95).abs() < 0.02, "{covered}");
    assert!((covered - theirs).abs() < 0.012, "{covered} {theirs}");
}

/// The smallest detectable difference at 80 % power, in run-to-run standard deviations. Source: the
/// noncentral t of `scipy.stats.nct` (see `t_distributions_equal_scipy`): 4.17, 3.61, 3.07.
#[test]
fn smallest_detectable_differences() {
    let in_sd = |df: f64, a: f64, b: f64| {
        detectable_noncentrality(df, 0.05, 0.8).unwrap() * (1.0 / a + 1.0 / b).sqrt()
    };
    for (name, sd, expected) in [
        ("one against one, 20 df", in_sd(20.0, 1.0, 1.0), 4.2),
        ("A-B-A, 20 df", in_sd(20.0, 2.0, 1.0), 3.6),
        ("three against three alone", in_sd(4.0, 3.0, 3.0), 3.1),
    ] {
        println!("{name}: {sd:.3} SD");
        assert!((sd - expected).abs() < 0.05, "{name}: {sd}");
    }
}

const SECTIONS: [&str; 6] = ["gate", "roots", "chute", "drop", "flat", "finish"];

fn sections() -> Vec<String> {
    SECTIONS.map(str::to_owned).to_vec()
}

fn plan(scale: Scale, worth_having: f64) -> Plan {
    let metric = "pitch_rate_rms_radps".to_owned();
    Plan { metric, direction: Direction::Less, scale, sections: sections(), worth_having }
}

/// A run with these values, one for each section, all ridden at one speed.
fn run(setup: &str, values: impl Fn(usize) -> f64) -> RunValues {
    let sections = SECTIONS
        .iter()
        .enumerate()
        .map(|(k, section)| SectionValue {
            section: (*section).to_owned(),
            value: Measured::value(values(k)),
            mean_speed_mps: Measured::value(8.0),
        })
        .collect();
    RunValues { run: String::new(), setup: setup.to_owned(), sections }
}

fn evidence(comparison: &Comparison) -> Evidence {
    *comparison.evidence.get().unwrap()
}

/// Source: `scipy.stats.ttest_ind` (p, both intervals, both one-sided tests); least squares and
/// `scipy.stats.t` for A-B-A with an archive;
/// `scipy.stats.permutation_test` of three against three.
#[test]
fn evidence_equals_scipy() {
    let (a, b) = ([1.02, 0.97, 1.05], [0.93, 0.95, 0.90]);
    let day: Vec<RunValues> =
        (0..3).flat_map(|k| [run("A", move |_| a[k]), run("B", move |_| b[k])]).collect();
    let alone = compare(&plan(Scale::Plain, 0.2), &day, ["A", "B"], &RunToRun::default()).unwrap();

    // A-B-A on the logarithmic scale, with three set-ups of an earlier day: A1, B, A2, then C, D and E.
    let values = [0.51, 0.44, 0.48, 0.90, 0.97, 0.93, 1.31, 1.22, 1.25, 1.28, 0.70];
    let setup = [0, 1, 0, 2, 2, 2, 3, 3, 3, 3, 4];
    let mut contrast = [0.0; 11];
    contrast[..3].copy_from_slice(&[-0.5, 1.0, -0.5]);
    let rides: Vec<RunValues> =
        (0..11).map(|k| run(["A", "B", "C", "D", "E"][setup[k]], |_| values[k])).collect();
    let archive = RunToRun::of(&rides[3..], &sections(), Scale::Logarithmic);
    let pooled = compare(&plan(Scale::Logarithmic, 0.05), &rides[..3], ["A", "B"], &archive).unwrap();

    let theirs = reference(
        "back_to_back",
        &[
            ("a", &a),
            ("b", &b),
            ("worth_having", &[0.2]),
            ("values", &values.map(f64::ln)),
            ("setup", &setup.map(|k| k as f64)),
            ("contrast", &contrast),
        ],
    );
    let found = evidence(&alone);
    assert_eq!(found.df, 4);
    assert_near("p", &[found.p], &theirs["p"], 1e-9, 0.0);
    assert_near("interval", &found.interval, &theirs["interval"], 1e-9, 0.0);
    assert_near("interval_90", &found.interval_90, &theirs["interval_90"], 1e-9, 0.0);
    assert_near("one-sided", &[*alone.p_worth_having.get().unwrap()], &theirs["p_worth_having"], 1e-9, 0.0);
    assert_eq!(alone.verdict.get(), Ok(&Verdict::NoDifferenceThatMatters));

    let found = evidence(&pooled);
    assert!(pooled.contrast.steady_trend_removed);
    assert_eq!(found.df, 6);
    let share = |name: &str| theirs[name].iter().map(|end| end.exp_m1()).collect::<Vec<_>>();
    assert_near("A-B-A p", &[found.p], &theirs["aba_p"], 1e-9, 0.0);
    assert_near("A-B-A interval", &found.interval, &share("aba_interval"), 1e-9, 0.0);
    assert_near("A-B-A interval_90", &found.interval_90, &share("aba_interval_90"), 1e-9, 0.0);

    // Why scatter is pooled: three against three, however far apart, is 2 of 20 ways to deal six runs.
    assert_near("permutation", &theirs["permutation_p"], &[0.10], 1e-12, 0.0);
}

/// Standard normal (Box and Muller 1958).
fn normal(random: &mut Random) -> f64 {
    let radius = (-2.0 * (1.0 - random.share()).ln()).sqrt();
    radius * (std::f64::consts::TAU * random.share()).cos()
}

/// Scatter of a whole run on the logarithmic scale, and of one section of it besides.
const RUN_SD: f64 = 0.04;
const SECTION_SD: f64 = 0.03;

/// One run of a simulated day: sections have levels of their own, a change works on all of them by `shift`,
/// and the whole run is a little off.
fn simulated_run(setup: &str, shift: f64, random: &mut Random) -> RunValues {
    let off = shift + RUN_SD * normal(random);
    let noise: Vec<f64> = (0..SECTIONS.len()).map(|_| SECTION_SD * normal(random)).collect();
    run(setup, |k| (0.3 * k as f64 + off + noise[k]).exp())
}

/// The scatter of earlier days, on which a set-up was ridden twice or three times; half of them had a trend.
fn simulated_archive(trend: f64, random: &mut Random) -> RunToRun {
    (0..10).fold(RunToRun::default(), |archive, day| {
        let trend = if day < 5 { trend } else { 0.0 };
        let runs: Vec<RunValues> =
            (0..2 + day % 2).map(|k| simulated_run("A", trend * f64::from(k), random)).collect();
        archive.with(RunToRun::of(&runs, &sections(), Scale::Logarithmic))
    })
}

/// What many simulated days come to.
#[derive(Debug, Default)]
struct Tally {
    days: f64,
    covered: f64,
    better_or_worse: f64,
    no_difference: f64,
    right: f64,
}

impl Tally {
    fn add(&mut self, comparison: &Comparison, true_share: f64) {
        let [low, high] = evidence(comparison).interval;
        let verdict = *comparison.verdict.get().unwrap();
        self.days += 1.0;
        self.covered += f64::from(low <= true_share && true_share <= high);
        self.better_or_worse += f64::from(matches!(verdict, Verdict::Better | Verdict::Worse));
        self.no_difference += f64::from(verdict == Verdict::NoDifferenceThatMatters);
        self.right += f64::from(verdict == if true_share < 0.0 { Verdict::Better } else { Verdict::Worse });
    }

    fn share(&self, count: f64) -> f64 {
        count / self.days
    }
}

/// Rides `days` days on which B makes a difference of `shift`, and each run is `trend` beyond the one before.
fn simulate(days: usize, order: &[&str], shift: f64, trend: f64, worth_having: f64, seed: u64) -> Tally {
    let mut random = Random::seeded(seed);
    let plan = plan(Scale::Logarithmic, worth_having);
    let mut tally = Tally::default();
    for _ in 0..days {
        let archive = simulated_archive(trend, &mut random);
        let day: Vec<RunValues> = order
            .iter()
            .enumerate()
            .map(|(k, setup)| {
                let change = if *setup == "B" { shift } else { 0.0 };
                simulated_run(setup, change + trend * k as f64, &mut random)
            })
            .collect();
        tally.add(&compare(&plan, &day, ["A", "B"], &archive).unwrap(), shift.exp_m1());
    }
    tally
}

/// Coverage 95 +- 2 % and at most 5 % false verdicts. Source: what the words mean; the days are constructed.
///
/// Half of the days have a rider who learns 2 % with every run, half a run's scatter, and are ridden A-B-A;
/// the others are ridden A-B. Binomial standard error of 5 %: 0.24 % over all days, 0.34 % over half of them.
#[test]
fn intervals_cover_and_false_verdicts_are_few() {
    const DAYS: usize = 4000;
    // However small a difference counts, which is the harshest plan; and one that is worth more than two
    // runs usually differ by.
    for worth_having in [1e-9, 0.15] {
        let steady = simulate(DAYS, &["A", "B"], 0.0, 0.0, worth_having, 11);
        let learning = simulate(DAYS, &["A", "B", "A"], 0.0, -0.02, worth_having, 12);
        let days = steady.days + learning.days;
        let covered = (steady.covered + learning.covered) / days;
        let false_verdicts = (steady.better_or_worse + learning.better_or_worse) / days;
        println!(
            "D {worth_having}: covered {covered:.4} (A-B {:.4}, A-B-A learning {:.4}), \
             false {false_verdicts:.4} (A-B {:.4}, A-B-A learning {:.4})",
            steady.share(steady.covered),
            learning.share(learning.covered),
            steady.share(steady.better_or_worse),
            learning.share(learning.better_or_worse),
        );
        assert!((covered - 0.95).abs() <= 0.02, "{covered}");
        assert!(false_verdicts <= 0.05, "{false_verdicts}");
        for tally in [&steady, &learning] {
            assert!((tally.share(tally.covered) - 0.95).abs() <= 0.02, "{tally:?}");
            assert!(tally.share(tally.better_or_worse) <= 0.05 + 2.0 * 0.0034, "{tally:?}");
        }
    }
}

/// The same where nobody went back on the days of the learning rider: one run each holds the share, since the trend
/// between earlier repeats has made the intervals a little wider. More runs on one side of the change do not, which
/// is printed: there the screen says that a trend counts as a difference, and asks to go back. Source: what the words
/// mean; binomial standard error over all days 0.24 %.
#[test]
fn a_run_each_makes_few_false_verdicts_while_a_rider_learns() {
    const DAYS: usize = 4000;
    let orders: [(&[&str], bool); 4] = [
        (&["A", "B"], true),
        (&["B", "A", "A", "B"], true),
        (&["A", "B", "A", "B"], false),
        (&["A", "A", "B"], false),
    ];
    for (k, (order, holds)) in orders.into_iter().enumerate() {
        let seed = 51 + 2 * k as u64;
        let steady = simulate(DAYS, order, 0.0, 0.0, 0.05, seed);
        let learning = simulate(DAYS, order, 0.0, -0.02, 0.05, seed + 1);
        let days = steady.days + learning.days;
        let false_verdicts = (steady.better_or_worse + learning.better_or_worse) / days;
        println!(
            "{order:?}: false {false_verdicts:.4} (goal 0.05), of learning days {:.4}, covered {:.4}",
            learning.share(learning.better_or_worse),
            (steady.covered + learning.covered) / days
        );
        assert!(!holds || false_verdicts <= 0.05, "{order:?}: {false_verdicts}");
    }
}

/// A trend that is not taken out is taken for a difference: why going back is worth its run.
#[test]
fn without_going_back_a_trend_is_taken_for_a_difference() {
    const TREND: f64 = -0.04;
    let there = simulate(1000, &["A", "A", "B", "B"], 0.0, TREND, 0.02, 13);
    let back = simulate(1000, &["A", "B", "B", "A"], 0.0, TREND, 0.02, 13);
    let [there, back] = [there, back].map(|tally| tally.share(tally.better_or_worse));
    println!("false verdicts: A-A-B-B {there:.3}, A-B-B-A {back:.3}");
    assert!(back <= 0.05 && there > 0.2);
}

/// Both smallest detectable difference and equivalence mean what they say, over simulated days.
#[test]
fn what_is_detectable_is_detected_four_times_in_five() {
    // One against one with 10 df or so from the archive: the interval must leave out zero in 80 %.
    let mut random = Random::seeded(21);
    let archive = simulated_archive(0.0, &mut random);
    let sd = RUN_SD.hypot(SECTION_SD / (SECTIONS.len() as f64).sqrt());
    let df = archive.df() as f64;
    let shift = detectable_noncentrality(df, 0.05, 0.8).unwrap() * sd * 2.0_f64.sqrt();
    let found = simulate(2000, &["A", "B"], -shift, 0.0, 1e-9, 22);
    let right = found.share(found.right);
    println!("{df} df, true difference {:.1} %: found in {right:.3}", 100.0 * shift);
    // Binomial standard error: 0.009.
    assert!((right - 0.8).abs() < 0.03, "{right}");
    assert!((found.share(found.covered) - 0.95).abs() < 0.02);

    // A true difference exactly as large as D must not be called one that does not matter.
    let worth_having: f64 = 0.25;
    let at_the_limit = simulate(2000, &["A", "B", "A"], worth_having.ln_1p(), 0.0, worth_having, 23);
    let missed = at_the_limit.share(at_the_limit.no_difference);
    println!("a difference worth having is called none in {missed:.3}");
    assert!(missed <= 0.05 + 3.0 * 0.005, "{missed}");
}

/// Why the run is the unit: the same days, with each section taken for evidence of its own.
#[test]
fn sections_are_not_independent_evidence() {
    let mut random = Random::seeded(31);
    let days = 2000;
    let false_verdicts = (0..days)
        .filter(|_| {
            let [a, b] = ["A", "B"].map(|setup| simulated_run(setup, 0.0, &mut random));
            let log = |run: &RunValues, k: usize| run.sections[k].value.get().unwrap().ln();
            let d: Vec<f64> = (0..SECTIONS.len()).map(|k| log(&b, k) - log(&a, k)).collect();
            let (n, mean) = (d.len() as f64, d.iter().sum::<f64>() / d.len() as f64);
            let sd = (d.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt();
            mean.abs() * n.sqrt() / sd > t_quantile(0.975, n - 1.0)
        })
        .count();
    let share = false_verdicts as f64 / f64::from(days);
    println!("false verdicts with sections as units: {share:.3}");
    assert!(share > 0.2, "{share}");
}

/// Source: `scipy.stats.false_discovery_control` on the p values of the metrics that have one.
#[test]
fn explored_metrics_get_q_values_and_no_verdict() {
    let mut random = Random::seeded(41);
    let archive = simulated_archive(0.0, &mut random);
    let days: Vec<Vec<RunValues>> = (0..12)
        .map(|k| {
            let shift = if k < 3 { -0.3 } else { 0.0 };
            ["A", "B", "A"]
                .map(|setup| simulated_run(setup, if setup == "B" { shift } else { 0.0 }, &mut random))
                .into()
        })
        .collect();
    let mut metrics: Vec<ExploredMetric> = days
        .iter()
        .map(|day| ExploredMetric { metric: "some", scale: Scale::Logarithmic, day, archive })
        .collect();
    metrics.push(ExploredMetric { metric: "absent", scale: Scale::Plain, day: &[], archive });
    let explored = explore(&metrics, &sections(), ["A", "B"]);
    let p: Vec<f64> = explored[..12].iter().map(|one| one.evidence.get().unwrap().p).collect();
    let q: Vec<f64> = explored[..12].iter().map(|one| *one.q.get().unwrap()).collect();
    assert_near("q", &q, &reference("false_discovery", &[("p", &p)])["q"], 1e-12, 0.0);
    assert!(q[..3].iter().all(|q| *q < 0.05) && q[3..].iter().all(|q| *q > 0.05), "{q:?}");
    assert!(explored[12].q.get().unwrap_err().0.contains("set-up A"));
}
