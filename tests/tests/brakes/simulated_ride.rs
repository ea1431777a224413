//! The demo's first run: noisy sensors against the truth of the model that made it.

use std::fmt::Write;
use std::sync::OnceLock;

use evenkeel_core::{Day, End, Measured, SectionReadout, analyse_now};
use evenkeel_demo_data::day::{Plan, Recording, plans};
use evenkeel_demo_data::truth::RECORD_HZ;
use evenkeel_demo_data::written;
use evenkeel_tests::demo_run::{match_second_clock, read_logs};

struct Demo {
    plan: Plan,
    recording: Recording,
    day: Day,
    run: SectionReadout,
}

fn demo() -> &'static Demo {
    static DEMO: OnceLock<Demo> = OnceLock::new();
    DEMO.get_or_init(|| {
        let plan = plans().swap_remove(0);
        let recording = plan.record();
        let runs = [(plan, recording)];
        let day = written::day(&runs).unwrap();
        let [(plan, recording)] = runs;
        let run = read(&day, &plan, &recording.suspension_text, &recording.motion_text);
        Demo { plan, recording, day, run }
    })
}

fn read(day: &Day, plan: &Plan, suspension: &str, motion: &str) -> SectionReadout {
    let sources = read_logs(&[(plan.suspension_file(), suspension), (plan.motion_file(), motion)]);
    let mut day = day.clone();
    match_second_clock(&mut day, 0, &sources);
    analyse_now(&day, &day.runs[0], &sources).readout.sections.swap_remove(0)
}

fn value(measured: &Measured) -> f64 {
    *measured.get().unwrap()
}

/// Whether a brake is truly on, each millisecond.
fn truly_on(pressure_pa: &[f32]) -> Vec<bool> {
    let mut on = false;
    pressure_pa
        .iter()
        .map(|pressure| {
            on = *pressure >= if on { 0.6e5 } else { 1.0e5 };
            on
        })
        .collect()
}

impl Demo {
    fn true_pressure(&self, end: End) -> &[f32] {
        let truth = &self.recording.truth;
        let whole = if end == End::Front { &truth.front_brake_pa } else { &truth.rear_brake_pa };
        let index =
            |shown_s: f64| (self.recording.suspension_clock.true_s(shown_s) * RECORD_HZ).round() as usize;
        &whole[index(self.run.start_s)..index(self.run.end_s)]
    }
}

#[test]
fn areas_counts_and_overlap_are_the_true_ones() {
    let demo = demo();
    let brakes = &demo.run.brakes;
    let on = [End::Front, End::Rear].map(|end| truly_on(demo.true_pressure(end)));
    for ((end, brake), on) in [(End::Front, &brakes.front), (End::Rear, &brakes.rear)].into_iter().zip(&on) {
        let pressure = demo.true_pressure(end);
        let area = (0..on.len()).filter(|&i| on[i]).map(|i| f64::from(pressure[i])).sum::<f64>() / RECORD_HZ;
        let error = value(&brake.area_pa_s) / area - 1.0;
        let count = (0..on.len()).filter(|&i| on[i] && (i == 0 || !on[i - 1])).count();
        println!(
            "{end:?}: area {:.1} bar s, off by {:.3} % (goal 2); {} applications, truly {count}; usual peak {:.1} bar",
            area / 1e5,
            100.0 * error,
            brake.applications.get().unwrap(),
            value(&brake.usual_peak_pa) / 1e5,
        );
        assert!(error.abs() < 0.02);
        assert_eq!(brake.applications.get(), Ok(&count));
        let residual = &brake.residual;
        println!(
            "  residual: floor {:.3}, constant {:.3}, RMS {:.3} bar, {:.2} blips a minute; with lateral {:.2}, \
             its magnitude {:.2}, lean {:.2}; zero {:.3} to {:.3} bar, {:.4} bar a minute",
            value(&residual.residual_floor_pa) / 1e5,
            value(&residual.residual_constant_pa) / 1e5,
            value(&residual.residual_rms_pa) / 1e5,
            value(&residual.residual_blips_per_min),
            value(&residual.residual_lateral_correlation),
            value(&residual.residual_lateral_size_correlation),
            value(&residual.residual_lean_correlation),
            value(&brake.zero.zero_start_pa) / 1e5,
            value(&brake.zero.zero_end_pa) / 1e5,
            value(&brake.zero.zero_slope_pa_per_min) / 1e5,
        );
        // The model's frame is a healthy one.
        assert_eq!(residual.residual_over_allowance.get(), Ok(&false));
    }
    let overlap = (0..on[0].len()).filter(|&i| on[0][i] && on[1][i]).count() as f64 / RECORD_HZ;
    println!("overlap: {:.2} s, truly {overlap:.2} s", value(&brakes.overlap_s));
    assert!((value(&brakes.overlap_s) - overlap).abs() < 0.02 * overlap);
}

/// Its sensors have zeros of their own: 0.04 bar at the front, -0.02 at the rear.
#[test]
fn zeros_are_the_true_ones() {
    let brakes = &demo().run.brakes;
    for (brake, known) in [(&brakes.front, 0.04), (&brakes.rear, -0.02)] {
        for level in [&brake.zero.zero_start_pa, &brake.zero.zero_end_pa] {
            assert!((value(level) / 1e5 - known).abs() < 0.02, "{level:?}");
        }
    }
}

#[test]
fn a_healthy_run_drags_nothing_and_a_brake_held_lightly_is_found() {
    let demo = demo();
    for brake in [&demo.run.brakes.front, &demo.run.brakes.rear] {
        println!("healthy: drag {:?}, light {:.2} s", brake.drag_list.get(), value(&brake.light_s));
        assert_eq!(brake.drag_s.get(), Ok(&0.0));
    }
    // 2.2 bar on the rear, a fifth of its usual peak, for six seconds, somewhere in the middle.
    let (from_s, to_s) = {
        let middle = (demo.run.start_s + demo.run.end_s) / 2.0;
        (middle, middle + 6.0)
    };
    let mut rows = demo.recording.suspension_text.lines();
    let mut held = rows.next().unwrap().to_owned() + "\n";
    let (mut alone, mut dabs) = (0, 0);
    for row in rows {
        let mut cells: Vec<String> = row.split(',').map(str::to_owned).collect();
        let time_s = cells[0].parse::<f64>().unwrap() / 1000.0;
        if (from_s..to_s).contains(&time_s) {
            let bar: f64 = cells[4].parse().unwrap();
            cells[4] = format!("{:.2}", bar + 2.2);
            *if bar < 1.0 { &mut alone } else { &mut dabs } += 1;
        }
        writeln!(held, "{}", cells.join(",")).unwrap();
    }
    let run = read(&demo.day, &demo.plan, &held, &demo.recording.motion_text);
    let drags = run.brakes.rear.drag_list.get().unwrap();
    println!(
        "2.2 bar held for 6 s, {:.2} s of it without other braking: {:.2} s found in {drags:?}",
        f64::from(alone) / 250.0,
        value(&run.brakes.rear.drag_s)
    );
    assert!(!drags.is_empty());
    assert!(
        drags.iter().all(|drag| drag.start_s >= from_s - 0.2 && drag.start_s + drag.length_s <= to_s + 0.2)
    );
    assert!((value(&run.brakes.rear.drag_s) - f64::from(alone) / 250.0).abs() < 0.5);
    assert_eq!(run.brakes.front.drag_s.get(), Ok(&0.0));
}

#[test]
fn dive_is_positive_and_much_the_same_in_both_halves() {
    let run = &demo().run;
    let dive = &run.dive;
    let (gain, [low, high]) = (value(&dive.gain_m_per_pa), *dive.gain_m_per_pa.interval().unwrap());
    let dives = dive.dives.get().unwrap();
    println!(
        "dive: {:.2} mm/bar ({:.2}..{:.2}) of {} out of {} applications, rise {:.1} mm ({:.0} %), \
         {:.1} mm of bumps taken out, pitch {:.2} deg",
        gain * 1e8,
        low * 1e8,
        high * 1e8,
        dives.len(),
        run.brakes.front.applications.get().unwrap(),
        1e3 * value(&dive.rise_m),
        100.0 * value(&dive.rise_share),
        1e3 * value(&dive.bump_rise_m),
        value(&dive.pitch_rad).to_degrees(),
    );
    let halves = dives.split_at(dives.len() / 2);
    let [a, b] = [halves.0, halves.1].map(|half| {
        let mut gains: Vec<f64> = half.iter().map(|dive| dive.rise_m / dive.pressure_pa).collect();
        gains.sort_by(f64::total_cmp);
        gains[gains.len() / 2]
    });
    println!("first half {:.2}, second half {:.2} mm/bar", a * 1e8, b * 1e8);
    assert!(low > 0.0 && value(&dive.pitch_rad) > 0.0);
    assert!((a / b).ln().abs() < 0.5, "{a} against {b}");
}

/// The model's rider does not push here: what is found is the ground's.
#[test]
fn few_bumps_are_taken_for_pushes() {
    let rider = &demo().run.rider;
    println!(
        "pushes where there are none {:?}; hands RMS {:.2}, p95 {:.2} m/s^2",
        rider.push_list.get().unwrap(),
        value(&rider.hand_load_rms_mps2),
        value(&rider.hand_load_p95_mps2)
    );
    assert!(*rider.pushes.get().unwrap() <= 4);
    assert!(value(&rider.hand_load_rms_mps2) > 0.0);
}
