//! Doubts about sensors: nothing is turned before they are settled.

use super::words::BRAKE_CAUTION;
use super::{Advice, Certainty, Confidence, DoubtedChannel, Finding, FindingKind, Step};
use crate::readout::{ChannelReadout, RunReadout};
use crate::ride::Doubt;
use crate::role::{End, Role};
use crate::unit::Quantity;

/// One finding for each sensor and doubt; the three axes of a unit are one sensor, and swapped ends one doubt.
pub fn doubts(run: &RunReadout) -> Vec<Finding> {
    let mut told: Vec<(Role, &Doubt)> = Vec::new();
    let mut found: Vec<(usize, Finding)> = Vec::new();
    for channel in run.channels.iter().filter(|channel| counts(run, channel)) {
        for doubt in &channel.flags {
            let same = |(role, other): &(Role, &Doubt)| {
                is_one_sensor(*role, channel.role, doubt) && is_alike(doubt, other)
            };
            if !told.iter().any(same) {
                told.push((channel.role, doubt));
                found.push((rank(doubt), finding(run, channel, doubt)));
            }
        }
    }
    found.sort_by_key(|(rank, _)| *rank);
    found.into_iter().map(|(_, finding)| finding).collect()
}

/// What another file logs as well, and is read from there, hurts nobody.
fn counts(run: &RunReadout, channel: &ChannelReadout) -> bool {
    let read_elsewhere =
        |other: &ChannelReadout| other.used && other.role.as_read() == channel.role.as_read();
    channel.used || !run.channels.iter().any(read_elsewhere)
}

fn is_one_sensor(a: Role, b: Role, doubt: &Doubt) -> bool {
    match (a, b) {
        (Role::Accel(a, _), Role::Accel(b, _))
        | (Role::Gyro(a, _), Role::Gyro(b, _))
        | (Role::Magnet(a, _), Role::Magnet(b, _)) => a == b,
        _ => a.as_read() == b.as_read() || *doubt == Doubt::EndsSwapped,
    }
}

fn is_alike(a: &Doubt, b: &Doubt) -> bool {
    std::mem::discriminant(a) == std::mem::discriminant(b)
}

/// What makes a channel useless before what makes it inexact.
fn rank(doubt: &Doubt) -> usize {
    match doubt {
        Doubt::EndsSwapped => 0,
        Doubt::Inverted => 1,
        Doubt::Constant | Doubt::Stuck { .. } | Doubt::Standing { .. } => 2,
        Doubt::Clipped { .. } | Doubt::WrongSpeed { .. } => 3,
        Doubt::ZeroMoved { .. } | Doubt::SpeedsDisagree { .. } => 4,
        Doubt::BeyondRange { .. } => 5,
        Doubt::Noisy { .. } => 6,
    }
}

fn finding(run: &RunReadout, channel: &ChannelReadout, doubt: &Doubt) -> Finding {
    let what = match (channel.role, doubt) {
        (_, Doubt::EndsSwapped) => "Travel of both ends".to_owned(),
        (Role::Gyro(place, _), _) => sentence(&format!("the turn rates of the {}", place.words())),
        (Role::Accel(place, _), _) => sentence(&format!("the accelerations of the {}", place.words())),
        (role, _) => sentence(&role.words()),
    };
    let says = match doubt {
        // Of several axes, which may differ in size.
        Doubt::Constant
            if matches!(channel.role.quantity(), Quantity::Acceleration | Quantity::AngularRate) =>
        {
            "never change; check plug and cable".to_owned()
        }
        Doubt::EndsSwapped => "seems swapped, rear hits come before front hits".to_owned(),
        doubt => doubt.to_string(),
    };
    let end = match (channel.role.as_read(), doubt) {
        (_, Doubt::EndsSwapped) => None,
        (Role::Travel(end) | Role::Brake(end) | Role::WheelSpeed(end), _) => Some(end),
        _ => None::<End>,
    };
    let section = run.sections.first().map_or_else(|| "run".to_owned(), |whole| whole.name.clone());
    let brake = matches!(channel.role, Role::Brake(_)).then(|| BRAKE_CAUTION.to_owned());
    Finding {
        kind: FindingKind::SensorDoubt,
        end,
        section,
        moments: Vec::new(),
        statement: format!("{what} {says}: what depends on it is left out."),
        evidence: Vec::new(),
        confidence: Confidence {
            level: Certainty::Clear,
            times_limit: 1.0,
            interval_beyond: None,
            events: None,
            compared_with: Vec::new(),
            sensors: Vec::new(),
        },
        advice: Advice {
            step: Step::Inspect(remedy(doubt).to_owned()),
            other_causes: other_causes(doubt).iter().map(|cause| (*cause).to_owned()).collect(),
            next_run: "The channel without this remark, and the numbers that were left out.".to_owned(),
            cautions: brake.into_iter().collect(),
        },
        doubt: Some(DoubtedChannel {
            source: channel.source.clone(),
            header: channel.header.clone(),
            role: channel.role,
            doubt: doubt.clone(),
        }),
    }
}

/// Common practice of the trade.
fn remedy(doubt: &Doubt) -> &'static str {
    match doubt {
        Doubt::EndsSwapped => "Exchange the two plugs, or their roles in Check.",
        Doubt::Inverted => "Turn its sign in Check, or fit the sensor the other way round.",
        Doubt::Constant | Doubt::Stuck { .. } => {
            "Check plug, cable and fixing, then move the part by hand and look."
        }
        Doubt::Standing { .. } => "Check plug, cable and the gap between sensor and magnets.",
        Doubt::Clipped { .. } => {
            "Fit a sensor with more range, or move this one so that its range covers the stroke."
        }
        Doubt::WrongSpeed { .. } | Doubt::SpeedsDisagree { .. } => {
            "Measure the wheel's roll-out and count the pulses of one turn."
        }
        Doubt::ZeroMoved { .. } => {
            "Look whether the sensor has slipped, then set its zero again with the wheel hanging free."
        }
        Doubt::BeyondRange { .. } => "Check unit, zero and full travel in Check.",
        Doubt::Noisy { .. } => "Check cable, shield and fixing.",
    }
}

fn other_causes(doubt: &Doubt) -> &'static [&'static str] {
    match doubt {
        Doubt::EndsSwapped => {
            &["a speed that is far off, so that the wheelbase is looked for at the wrong time"]
        }
        Doubt::ZeroMoved { .. } => {
            &["an air spring that is almost empty and no longer extends the end", "an end that sticks"]
        }
        Doubt::BeyondRange { .. } => &["a full travel that is typed too short"],
        Doubt::Clipped { .. } => &["an end that rests on its bump stop"],
        Doubt::Constant | Doubt::Stuck { .. } => &["a column of the logger that is not in use"],
        _ => &[],
    }
}

fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
