//! Wheels that slide or lock under the brake.

use std::ops::Range;

use serde::{Deserialize, Serialize};

use super::basis::Basis;
use super::contact::ranges_where;
use super::speed::Wheels;
use super::wheel::{READING_S, SLIP_SPEED_MPS, WheelTrace};
use super::wheel_slip::{SLIDING, against};
use crate::calibrate::ROWS_MIN;
use crate::measured::{Measured, NotMeasured};
use crate::role::{End, Role};

/// Shorter than this is a bump, s.
const SHORTEST_S: f64 = 0.06;
/// A slide that reaches this slip is a lock-up.
const LOCKED: f64 = 0.8;
/// One reading of the wheel may break a slide for this long, s.
const BREAK_S: f64 = 0.02;
/// The brake of a slide may have been let go this long before it is seen, s.
const AFTER_BRAKE_S: f64 = 0.1;
/// A suspected lock-up ends within this time of the brake's release, s.
const SPINS_BACK_S: f64 = 0.3;
/// Slip must be measured for this share of the time over 2 m/s for its absence to mean anything.
const MEASURED_SHARE: f64 = 0.5;

/// What a wheel did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SlipKind {
    /// It slipped by 80 % or more.
    LockUp,
    /// It slipped by more than 30 %.
    Slide,
}

/// One slide or lock-up.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct SlipEpisode {
    /// Its start on the run's clock, s.
    pub start_s: f64,
    /// Its end on the run's clock, s.
    pub end_s: f64,
    /// What it is.
    pub kind: SlipKind,
    /// Told by this wheel alone: it fell under the brake and spun back as only a wheel that lost its grip
    /// does, but no other wheel says how fast the bike went.
    pub suspected: bool,
    /// Worst slip, 1 is locked.
    pub slip_max: f64,
    /// How long it slipped by 80 % or more, s.
    #[serde(default)]
    pub locked_s: f64,
}

/// Slides and lock-ups of one wheel over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct WheelReadout {
    /// How often it locked.
    pub lockups: Measured<usize>,
    /// For how long in all, s.
    pub lockup_s: Measured,
    /// How often it slid without locking.
    pub slides: Measured<usize>,
    /// Each of them, in order.
    pub episodes: Measured<Vec<SlipEpisode>>,
}

/// Slides and lock-ups of both wheels in a whole run.
#[derive(Clone, Debug)]
pub struct WheelSlips {
    ends: [Result<EndSlips, NotMeasured>; 2],
}

/// Those of one wheel, and what a section needs to judge whether there could be any.
#[derive(Clone, Debug)]
struct EndSlips {
    end: End,
    episodes: Vec<SlipEpisode>,
    /// By sample: slip was measured.
    told: Vec<bool>,
    pulse_m: f64,
    step_s: f64,
}

impl WheelSlips {
    /// Finds them. `slip`: by end, where it is measured against the other wheel, or why not; `bike_mps`:
    /// speed of the bike, not from GPS.
    pub fn find(
        wheels: &Wheels<'_>,
        slip: [Result<&[f32], NotMeasured>; 2],
        bike_mps: &[f32],
        start_s: f64,
        rate_hz: f64,
    ) -> Self {
        let [front, rear] = slip;
        let end = |end: End, slip: Result<&[f32], NotMeasured>| {
            let alone = wheels.front.is_none();
            let wheel = wheels.wheel(end);
            let (wheel, slip, suspected) = match (wheel, slip) {
                (Some(wheel), Ok(slip)) => (wheel, slip.to_vec(), false),
                (Some(wheel), Err(_)) if alone && end == End::Rear => {
                    (wheel, suspected_slip(wheel, bike_mps, rate_hz)?, true)
                }
                (_, Err(reason)) => return Err(reason),
                (None, Ok(_)) => return Err(NotMeasured::because("no wheel speed can be used")),
            };
            let episodes = episodes(wheel, &slip, bike_mps, rate_hz)
                .into_iter()
                .map(|(mut episode, _)| {
                    episode.suspected = suspected;
                    episode.start_s += start_s;
                    episode.end_s += start_s;
                    episode
                })
                .collect();
            let told = if suspected {
                bike_mps.iter().map(|v| wheel.reading_s(f64::from(*v)) <= READING_S).collect()
            } else {
                slip.iter().map(|slip| !slip.is_nan()).collect()
            };
            Ok(EndSlips { end, episodes, told, pulse_m: wheel.pulse_m, step_s: wheel.step_s })
        };
        Self { ends: [end(End::Front, front), end(End::Rear, rear)] }
    }

    /// Nothing can be said, for one reason.
    pub fn not(reason: &NotMeasured) -> Self {
        Self { ends: [Err(reason.clone()), Err(reason.clone())] }
    }

    /// Reads one wheel over one section; an episode belongs to the section in which it begins.
    pub fn read(&self, end: End, basis: &Basis<'_>, range: &Range<usize>) -> WheelReadout {
        let found = basis
            .logged(Role::WheelSpeed(end))
            .and_then(|_| self.ends[end as usize].as_ref().map_err(Clone::clone))
            .and_then(|slips| slips.in_section(basis, range));
        let of = |kind| {
            let found = found.as_ref().map_err(Clone::clone)?;
            Ok::<_, NotMeasured>(found.iter().filter(move |episode| episode.kind == kind))
        };
        let time_s = |locked: &mut dyn Iterator<Item = &SlipEpisode>| {
            locked.fold(0.0, |sum, episode| sum + (episode.end_s - episode.start_s))
        };
        WheelReadout {
            lockups: of(SlipKind::LockUp).map(Iterator::count).into(),
            lockup_s: of(SlipKind::LockUp).map(|mut locked| time_s(&mut locked)).into(),
            slides: of(SlipKind::Slide).map(Iterator::count).into(),
            episodes: found.clone().into(),
        }
    }
}

impl EndSlips {
    fn in_section(&self, basis: &Basis<'_>, range: &Range<usize>) -> Result<Vec<SlipEpisode>, NotMeasured> {
        let speed = basis.speed_mps()?;
        let fast: Vec<usize> =
            range.clone().filter(|&i| basis.grounded[i] && speed[i] > SLIP_SPEED_MPS).collect();
        if fast.is_empty() {
            return Err(NotMeasured::because("the bike never rolls faster than 2 m/s here"));
        }
        let told = fast.iter().filter(|&&i| self.told[i]).count();
        if (told as f64) < MEASURED_SHARE * fast.len() as f64 {
            let mean_mps = fast.iter().map(|&i| f64::from(speed[i])).sum::<f64>() / fast.len() as f64;
            return Err(self.too_seldom(mean_mps));
        }
        let (start_s, end_s) = (basis.time_s(range.start), basis.time_s(range.end));
        let begins_here = |episode: &&SlipEpisode| (start_s..end_s).contains(&episode.start_s);
        Ok(self.episodes.iter().filter(begins_here).copied().collect())
    }

    fn too_seldom(&self, mean_mps: f64) -> NotMeasured {
        let wait_s = self.step_s.max(self.pulse_m / mean_mps);
        if wait_s <= READING_S {
            return NotMeasured::because("the bike's speed is not known for half of the time here");
        }
        NotMeasured::because(format!(
            "at {mean_mps:.0} m/s the {} wheel is read every {:.0} ms; slip needs a reading every {:.0} ms",
            self.end.name(),
            wait_s * 1e3,
            READING_S * 1e3
        ))
    }
}

/// Slip of a rear wheel with nothing but itself to go by: only where it fell and spun back on the ground
/// under its brake, and there against the speed that was carried across; NaN elsewhere.
fn suspected_slip(wheel: &WheelTrace<'_>, bike_mps: &[f32], rate_hz: f64) -> Result<Vec<f32>, NotMeasured> {
    let braked = wheel.braked.as_ref().ok_or_else(|| {
        NotMeasured::because("without the other wheel's speed it needs the pressure of this wheel's brake")
    })?;
    let slip = against(wheel, 1.0, bike_mps);
    let mut suspected = vec![f32::NAN; slip.len()];
    let spins_back = ((SPINS_BACK_S - AFTER_BRAKE_S) * rate_hz) as usize;
    for dip in &wheel.dips {
        let Some(lowest) = dip.clone().min_by(|&a, &b| wheel.speed_mps[a].total_cmp(&wheel.speed_mps[b]))
        else {
            continue;
        };
        // `braked` itself reaches 0.1 s beyond the release.
        let released = dip.end.saturating_sub(spins_back).max(dip.start);
        let under_brake = braked[lowest] && braked[released..dip.end].iter().any(|on| *on);
        if under_brake && !dip.clone().any(|i| wheel.off_ground[i]) {
            suspected[dip.clone()].copy_from_slice(&slip[dip.clone()]);
        }
    }
    Ok(suspected)
}

/// Slides and lock-ups with their samples, times from the start of the grid.
fn episodes(
    wheel: &WheelTrace<'_>,
    slip: &[f32],
    bike_mps: &[f32],
    rate_hz: f64,
) -> Vec<(SlipEpisode, Range<usize>)> {
    let samples = |seconds: f64| (seconds * rate_hz).round() as usize;
    let mut slides: Vec<Range<usize>> = Vec::new();
    for slide in ranges_where(slip.len(), 1, |i| slip[i] > SLIDING) {
        match slides.last_mut() {
            Some(last)
                if slide.start - last.end <= samples(BREAK_S)
                    && !slip[last.end..slide.start].iter().any(|slip| slip.is_nan()) =>
            {
                last.end = slide.end;
            }
            _ => slides.push(slide),
        }
    }
    let before = samples(AFTER_BRAKE_S);
    slides
        .into_iter()
        .filter(|slide| {
            let braked = wheel.braked.as_ref();
            braked.is_none_or(|on| on[slide.start.saturating_sub(before)..slide.end].iter().any(|on| *on))
        })
        .filter_map(|slide| {
            let [rolled_in_s, rolled_out_s] = rolled_s(wheel, slip, bike_mps, &slide, rate_hz);
            let start_s = slide.start as f64 / rate_hz + rolled_in_s;
            let end_s = slide.end as f64 / rate_hz - rolled_out_s;
            let slip_max = worst(wheel, slip, &slide, rate_hz);
            let kind = if slip_max >= LOCKED { SlipKind::LockUp } else { SlipKind::Slide };
            let locked = slip[slide.clone()].iter().filter(|slip| f64::from(**slip) >= LOCKED).count();
            let locked_s = locked as f64 / rate_hz;
            let episode = SlipEpisode { start_s, end_s, kind, suspected: false, slip_max, locked_s };
            (end_s - start_s >= SHORTEST_S).then_some((episode, slide))
        })
        .collect()
}

/// Worst slip of a slide.
///
/// The mean over a wait for a pulse hides how far slip rose and fell within. Taken as a triangle that meets,
/// at each end, the straight line between the means on either side, its peak is
/// (4 mean - start - end) / 2; the higher end stands for both, so that the first wait of a steady slide is
/// not taken for a peak. Several waits that are alike are steady and have none.
fn worst(wheel: &WheelTrace<'_>, slip: &[f32], slide: &Range<usize>, rate_hz: f64) -> f64 {
    let Some(peak) = slide.clone().max_by(|&a, &b| slip[a].total_cmp(&slip[b])) else { return f64::NAN };
    let mean = f64::from(slip[peak]);
    if wheel.pulse_m == 0.0 {
        return mean;
    }
    // Only the bike's own change of speed moves slip between two pulses.
    let same = |i: usize| (f64::from(slip[i]) - mean).abs() < 0.05;
    let from = (0..peak).rev().take_while(|&i| same(i)).last().unwrap_or(peak);
    let to = (peak + 1..slip.len()).take_while(|&i| same(i)).last().unwrap_or(peak);
    // Short waits are taken together; one and a half are more than one.
    let wait_s = f64::max(wheel.pulse_m / f64::from(wheel.speed_mps[peak]), ROWS_MIN as f64 * wheel.step_s);
    if (to + 1 - from) as f64 / rate_hz > 1.5 * wait_s {
        return mean;
    }
    let clear = (wheel.step_s * rate_hz).ceil() as usize;
    // The slower the wheel, the longer the wait. Nothing is added beside a missing sample.
    let end = |beside: Option<usize>| match beside.and_then(|i| slip.get(i)) {
        Some(beside) if !beside.is_nan() => {
            let beside = f64::from(*beside);
            beside + (mean - beside) * (1.0 - mean).max(0.0) / (2.0 - mean - beside)
        }
        _ => mean,
    };
    let end = end(from.checked_sub(clear)).max(end(Some(to + clear)));
    (2.0 * mean - end).clamp(mean, mean.max(1.0))
}

/// How long at each end of a slide the wheel still rolled, s; below zero where it slid before.
///
/// Between two pulses only the mean slip is seen. A wheel that rolled until its last pulse before the slide
/// has rolled on for half a pulse on the average; one that had half of the threshold was on a ramp that
/// meets it just then, and one near the threshold passed it half a pulse earlier.
fn rolled_s(
    wheel: &WheelTrace<'_>,
    slip: &[f32],
    bike_mps: &[f32],
    slide: &Range<usize>,
    rate_hz: f64,
) -> [f64; 2] {
    // The grid lies between the logger's rows.
    let clear = (wheel.step_s * rate_hz).ceil() as usize;
    let at = |beside: Option<usize>, edge: usize| {
        let Some(beside) = beside.and_then(|i| slip.get(i)).filter(|slip| !slip.is_nan()) else { return 0.0 };
        let share = (1.0 - f64::from(beside / (SLIDING / 2.0))).clamp(-1.0, 1.0);
        share * 0.5 * wheel.pulse_m / f64::from(bike_mps[edge])
    };
    [at(slide.start.checked_sub(clear), slide.start), at(Some(slide.end - 1 + clear), slide.end - 1)]
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 500.0;

    fn wheel(speed_mps: &[f32], braked: Option<Vec<bool>>) -> WheelTrace<'_> {
        let off_ground = vec![false; speed_mps.len()];
        WheelTrace { speed_mps, pulse_m: 0.0, step_s: 0.002, braked, off_ground, dips: Vec::new() }
    }

    fn found(slip: &[f32], braked: Option<Vec<bool>>) -> Vec<SlipEpisode> {
        let bike = vec![8.0; slip.len()];
        episodes(&wheel(slip, braked), slip, &bike, RATE_HZ).into_iter().map(|(episode, _)| episode).collect()
    }

    /// Worked by hand.
    #[test]
    fn a_slide_needs_sixty_milliseconds_and_a_lock_up_eighty_per_cent() {
        let mut slip = vec![0.05; 1000];
        slip[100..129].fill(0.9);
        slip[300..350].fill(0.5);
        slip[500..600].fill(0.35);
        slip[550] = 0.85;
        let found = found(&slip, None);
        assert_eq!(found.len(), 2);
        let [slide, lock_up] = found[..] else { return };
        assert_eq!((slide.kind, slide.start_s, slide.end_s), (SlipKind::Slide, 0.6, 0.7));
        assert!((slide.slip_max - 0.5).abs() < 1e-6);
        assert_eq!((lock_up.kind, lock_up.start_s, lock_up.end_s), (SlipKind::LockUp, 1.0, 1.2));
        // One sample of its hundred.
        assert_eq!((slide.locked_s, lock_up.locked_s), (0.0, 0.002));
    }

    #[test]
    fn a_wait_between_two_pulses_hides_a_peak_and_a_steady_slide_has_none() {
        let mut slip = vec![0.0; 1000];
        // One wait of 94 ms where 30 ms is usual: by the formula, its ends are at
        // 0.667 (0.333 / 1.333) = 0.167 and its peak beyond 1.
        slip[100..147].fill(2.0 / 3.0);
        // Three waits of 20 ms of a slide that stays at 0.5.
        slip[400..430].fill(0.5);
        let bike = vec![6.0; 1000];
        let speed: Vec<f32> = slip.iter().map(|slip| 6.0 * (1.0 - slip)).collect();
        let wheel = WheelTrace { pulse_m: 0.18, ..wheel(&speed, None) };
        let found = episodes(&wheel, &slip, &bike, RATE_HZ);
        assert_eq!(found[0].0.kind, SlipKind::LockUp);
        assert_eq!(worst(&wheel, &slip, &(100..147), RATE_HZ), 1.0);
        slip[410..420].fill(0.52);
        let steady = WheelTrace { pulse_m: 0.06, ..self::wheel(&speed, None) };
        assert!(worst(&steady, &slip, &(400..430), RATE_HZ) < 0.53);
        // Speed that is logged as such hides nothing.
        let direct = self::wheel(&speed, None);
        assert!((worst(&direct, &slip, &(100..147), RATE_HZ) - 2.0 / 3.0).abs() < 1e-6);
    }

    #[test]
    fn one_reading_does_not_break_a_slide_but_a_missing_one_does() {
        let mut slip = vec![0.0; 500];
        slip[100..150].fill(0.5);
        slip[120..126].fill(0.2);
        assert_eq!(found(&slip, None).len(), 1);
        slip[120..126].fill(f32::NAN);
        assert_eq!(found(&slip, None).len(), 0);
    }

    #[test]
    fn without_its_brake_a_wheel_does_not_lock() {
        let mut slip = vec![0.0; 500];
        slip[100..150].fill(0.9);
        let mut braked = vec![false; 500];
        assert_eq!(found(&slip, Some(braked.clone())).len(), 0);
        braked[90..110].fill(true);
        assert_eq!(found(&slip, Some(braked)).len(), 1);
    }

    #[test]
    fn half_a_pulse_is_rolled_at_each_end_of_a_sudden_stop() {
        let mut slip = vec![0.0; 500];
        slip[100..200].fill(0.9);
        let bike = vec![5.0; 500];
        let wheel = WheelTrace { pulse_m: 0.1, ..wheel(&slip, None) };
        let (episode, _) = episodes(&wheel, &slip, &bike, RATE_HZ)[0].clone();
        // 0.1 m at 5 m/s takes 20 ms.
        assert!((episode.start_s - 0.21).abs() < 1e-6 && (episode.end_s - 0.39).abs() < 1e-6, "{episode:?}");
    }

    #[test]
    fn a_rear_wheel_alone_is_suspected_only_under_its_brake_and_on_the_ground() {
        let mut speed = vec![8.0; 1000];
        speed[400..500].fill(0.4);
        let (lock_up, bike) = (390..510, vec![8.0; 1000]);
        let case = |brake: Range<usize>, off_ground: bool| {
            let mut wheel = wheel(&speed, Some(super::super::wheel::mask([brake].into_iter(), 1000)));
            wheel.dips = vec![lock_up.clone()];
            wheel.off_ground = vec![off_ground; 1000];
            let slip = suspected_slip(&wheel, &bike, RATE_HZ).unwrap();
            episodes(&wheel, &slip, &bike, RATE_HZ).len()
        };
        assert_eq!(case(350..520, false), 1);
        // In the air; without brake; released 0.4 s before it spins back.
        assert_eq!(case(350..520, true), 0);
        assert_eq!(case(100..200, false), 0);
        assert_eq!(case(250..405, false), 0);
        let unknown = suspected_slip(&wheel(&speed, None), &bike, RATE_HZ);
        assert!(unknown.is_err());
    }
}
