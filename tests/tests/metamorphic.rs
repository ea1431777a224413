//! What must hold of any read-out without knowing its numbers: mirrored, shifted, sampled twice as fast, ends swapped.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use evenkeel_core::Bike;
use evenkeel_demo_data::day::plans;
use evenkeel_tests::logged::Logged;
use evenkeel_tests::numbers::{Found, numbers};

/// The start straight and the roots of a simulated ride, at 1 kHz.
fn log() -> &'static Logged {
    static LOG: OnceLock<Logged> = OnceLock::new();
    LOG.get_or_init(|| {
        let mut run = plans()[1].run();
        run.until_s = 50.0;
        Logged::of(&run.ride(), 1)
    })
}

/// Every `step`-th row.
fn slower(step: usize) -> Logged {
    let mut log = log().clone();
    for (_, values) in &mut log.channels {
        *values = values.iter().copied().step_by(step).collect();
    }
    log.rate_hz /= step as f64;
    log
}

/// The whole run's numbers.
fn read(log: &Logged, bike: &Bike) -> BTreeMap<String, Found> {
    let readout = log.ride(bike).readout;
    numbers(&readout.sections[0])
}

/// How far two numbers may be apart.
#[derive(Clone, Copy)]
enum Within {
    /// As a share of the larger.
    Share(f64),
    /// In their own unit.
    Absolute(f64),
}

/// Paths whose numbers differ by more than `tolerance`, or that are measured in one and not in the other.
fn differing(
    a: &BTreeMap<String, Found>,
    b: &BTreeMap<String, Found>,
    tolerance: impl Fn(&str) -> Within,
) -> Vec<String> {
    let differs = |path: &String| match (a.get(path), b.get(path)) {
        (Some(Found::Number(x)), Some(Found::Number(y))) => {
            (x - y).abs()
                > match tolerance(path) {
                    Within::Share(share) => share * x.abs().max(y.abs()) + 1e-9,
                    Within::Absolute(most) => most,
                }
        }
        (Some(Found::Not(_)), Some(Found::Not(_))) => false,
        _ => true,
    };
    let paths = a.keys().chain(b.keys().filter(|path| !a.contains_key(*path)));
    let show = |found: Option<&Found>| match found {
        Some(Found::Number(x)) => format!("{x}"),
        Some(Found::Not(reason)) => format!("not measured ({reason})"),
        None => "absent".to_owned(),
    };
    paths
        .filter(|path| differs(path))
        .map(|p| format!("{p}: {} / {}", show(a.get(p)), show(b.get(p))))
        .collect()
}

#[test]
fn another_clock_changes_nothing() {
    let plain = slower(4);
    let later = Logged { start_s: 5000.0, ..plain.clone() };
    let bike = Bike::default();
    let moments = ["start_s", "end_s", "apex_s", "front_s", "rear_s"];
    let mut later = read(&later, &bike);
    for (path, found) in &mut later {
        if let (true, Found::Number(s)) = (moments.iter().any(|moment| path.ends_with(moment)), found) {
            *s -= 5000.0;
        }
    }
    let apart = differing(&read(&plain, &bike), &later, |_| Within::Share(1e-5));
    assert!(apart.is_empty(), "{apart:#?}");
}

/// Left and right are a matter of signs: what points sideways turns over, left counts become right ones, and
/// nothing else changes.
#[test]
fn a_mirrored_bike_leans_the_other_way() {
    let plain = slower(4);
    let mut mirrored = plain.clone();
    for sideways in
        ["frame acc y", "frame gyro x", "frame gyro z", "bar acc y", "bar gyro x", "bar gyro z", "longitude"]
    {
        mirrored.channel(sideways).iter_mut().for_each(|value| *value = -*value);
    }
    let bike = Bike::default();
    let turned_over = |path: &str| {
        let signed = path.contains("lean_max") || path.contains("yaw") || path.contains("turn_rad");
        // Of the brake's pressure, which has no side, with what has one.
        signed || ["lean_correlation", "lateral_correlation"].iter().any(|word| path.ends_with(word))
    };
    let mirrored = read(&mirrored, &bike)
        .into_iter()
        .map(|(path, found)| match found {
            Found::Number(x) if turned_over(&path) => (path, Found::Number(-x)),
            found if path.contains("left") => (path.replace("left", "right"), found),
            found if path.contains("right") => (path.replace("right", "left"), found),
            found => (path, found),
        })
        .collect();
    let apart = differing(&read(&plain, &bike), &mirrored, |_| Within::Share(1e-3));
    assert!(apart.is_empty(), "{apart:#?}");
}

/// Without a speed nothing says which end leads, so the ends may be exchanged: on a bike that is alike at both,
/// every front number becomes the rear one.
#[test]
fn swapped_ends_swap_their_numbers() {
    swap(slower(4), |path| {
        // Fork hits under the front brake are left out of these, rear hits are not: braking dives the fork.
        !["recover", "overshoot", "rebound_rate"].iter().any(|word| path.contains(word))
    });
    swap(slower(4).without("front brake").without("rear brake"), |_| true);
}

fn swap(plain: Logged, compared: fn(&str) -> bool) {
    let plain = plain.without("front wheel").without("rear wheel");
    let mut swapped = plain.clone();
    for (header, _) in &mut swapped.channels {
        *header = match *header {
            "front travel [mm]" => "rear travel [mm]",
            "rear travel [mm]" => "front travel [mm]",
            "front brake [bar]" => "rear brake [bar]",
            "rear brake [bar]" => "front brake [bar]",
            other => other,
        };
    }
    let bike = Bike { head_angle_rad: std::f64::consts::FRAC_PI_2, ..Bike::default() };
    let of_ends = |numbers: BTreeMap<String, Found>| -> BTreeMap<String, Found> {
        let both = |path: &String| {
            (path.starts_with("front.") || path.starts_with("rear.") || path.starts_with("brakes."))
                && compared(path)
        };
        numbers.into_iter().filter(|(path, _)| both(path)).collect()
    };
    let exchanged = of_ends(read(&swapped, &bike))
        .into_iter()
        .map(|(path, found)| {
            if let ("brakes.balance_front_share", Found::Number(front)) = (path.as_str(), &found) {
                return (path, Found::Number(1.0 - front));
            }
            if path == "brakes.balance_front_share" {
                return (path, found);
            }
            let other = if path.contains("front") {
                path.replace("front", "rear")
            } else {
                path.replace("rear", "front")
            };
            (other, found)
        })
        .collect();
    let apart = differing(&of_ends(read(&plain, &bike)), &exchanged, |_| Within::Share(1e-6));
    assert!(apart.is_empty(), "{apart:#?}");
}

/// 1 kHz against 500 Hz. Peaks of speed see more at the higher rate and are never compared; what counts crossings of a
/// threshold may differ by the few that just reach it.
#[test]
fn twice_the_rate_gives_the_same_numbers() {
    let bike = Bike::default();
    let tolerance = |path: &str| match path {
        path if path.contains("speed_max") || path.contains("bottom_out_speeds") => Within::Share(0.15),
        // Half the rate, as it should be.
        path if path.ends_with("covered_to_hz") => Within::Absolute(f64::INFINITY),
        path if path.contains("histogram") => Within::Absolute(0.005),
        // A tenth of what the pressure sensor's noise is: with the lever free there is nothing else.
        path if path.contains("residual_") && path.ends_with("_pa") || path.contains(".zero_") => {
            Within::Absolute(150.0)
        }
        path if path.contains("correlation") => Within::Absolute(0.02),
        path if path.ends_with("blips_per_min") => Within::Absolute(2.0),
        // The nearest sample, 2 ms, of each that begins and ends; one hit of a hundred; one knock.
        path if path.contains("skitter") && path.ends_with("_s") => Within::Absolute(0.005),
        path if path.ends_with("not_recovered_share") => Within::Absolute(0.02),
        path if path.ends_with("top_outs") => Within::Absolute(1.0),
        // Sizes that lie around zero.
        path if path.ends_with("difference_m") || path.ends_with("overshoot_p50_m") => {
            Within::Absolute(0.0007)
        }
        path if path.ends_with("sink_m") => Within::Absolute(0.0007),
        path if path.ends_with("difference_share") => Within::Absolute(0.0035),
        _ => Within::Share(0.05),
    };
    let apart = differing(&read(log(), &bike), &read(&slower(2), &bike), tolerance);
    assert!(apart.is_empty(), "{apart:#?}");
}
