//! The read-out of one stretch of a run.

use std::ops::Range;

use super::basis::Basis;
use super::brakes::Brakes;
use super::contact::{Contact, ranges_where};
use super::corners::Corners;
use super::dive::Dives;
use super::evenness::Evenness;
use super::harshness::Harshness;
use super::hit_pairs::HitPairs;
use super::kick::kick;
use super::lock_up::WheelSlips;
use super::recovery::returns;
use super::rider::Arms;
use super::shake::Shake;
use super::speed::distance_m;
use super::travel::{PEAK_SPEED_RATE_HZ, TravelInput};
use super::vibration::{Vibration, VibrationInput};
use super::{
    AxleSpeedReadout, BenchBounceReadout, PackingReadout, PitchAgreement, ReboundReadout, RecoveryReadout,
    SectionRange, SpectraReadout, Trace, TravelReadout, chord_pitch_rad, pitch_agreement,
};
use crate::measured::{Measured, NotMeasured};
use crate::readout::{AttitudeReadout, EndReadout, Flight, LevelReadout, SectionReadout};
use crate::role::{Axis, End, Place, Role};
use crate::signal::{median, percentile};

/// Frame pitch rate is felt in this band, Hz.
const PITCH_RATE_BAND_HZ: [f64; 2] = [0.5, 12.0];
/// An end that stays this near to its own course below 0.5 Hz stands still, m.
const STILL_M: f32 = 0.0015;

/// A shorter section has no ride height of its own: hits in it are seen against the run's, s.
const OWN_RIDE_HEIGHT_S: f64 = 5.0;

/// Reads the sections of one run.
pub struct SectionReader<'a> {
    basis: &'a Basis<'a>,
    attitude: &'a Result<bool, NotMeasured>,
    pitch_rate: Result<Vec<f32>, NotMeasured>,
    brakes: Brakes<'a>,
    dives: Dives,
    arms: Arms,
    vibration: Vibration,
    evenness: Evenness,
    hit_pairs: HitPairs,
    contact: Contact,
    harshness: Harshness,
    shake: Shake,
    corners: Corners,
    slips: &'a WheelSlips,
}

impl<'a> SectionReader<'a> {
    /// Prepares a run. `attitude` says whether it was found with speed, or why it was not; `slips` are the wheels'.
    pub fn new(basis: &'a Basis<'a>, attitude: &'a Result<bool, NotMeasured>, slips: &'a WheelSlips) -> Self {
        let brakes = Brakes::new(basis, [None; 2]);
        Self {
            basis,
            attitude,
            corners: Corners::new(basis, &brakes),
            brakes,
            dives: Dives::new(basis),
            arms: Arms::new(basis),
            vibration: Vibration::new(&vibration_input(basis)),
            pitch_rate: basis.in_band(Role::Gyro(Place::Frame, Axis::Y), PITCH_RATE_BAND_HZ),
            evenness: Evenness::new(basis),
            hit_pairs: HitPairs::new(basis),
            contact: Contact::new(basis),
            harshness: Harshness::new(basis),
            shake: Shake::new(basis),
            slips,
        }
    }

    /// The whole run: from the first to the last sample that rolls, or all of it if none does.
    pub fn whole_run(&self) -> SectionReadout {
        let rolling = &self.basis.rolling;
        let first = rolling.iter().position(|rolling| *rolling).unwrap_or(0);
        let last = rolling.iter().rposition(|rolling| *rolling).unwrap_or(rolling.len() - 1);
        self.read(SectionRange { name: "run".to_owned(), range: first..last + 1, no_braking: false })
    }

    /// Reads one stretch.
    pub fn read(&self, section: SectionRange) -> SectionReadout {
        let SectionRange { name, range, no_braking } = section;
        let front = self.end(End::Front, &range);
        let rear = self.end(End::Rear, &range);
        let (start_s, end_s) = (self.basis.time_s(range.start), self.basis.time_s(range.end));
        SectionReadout {
            name,
            start_s,
            end_s,
            time_s: end_s - start_s,
            distance_m: self.distance(&range).into(),
            level: self.level(&range, &front, &rear),
            brakes: self.brakes.read(&range, no_braking),
            dive: self.dives.read(&range),
            rider: self.arms.read(&range),
            lateral: self.shake.read(&range),
            attitude: self.attitude(&range),
            airborne: self.flights_in(&range).into(),
            vibration: self.vibration.read(range.clone()),
            spectra: SpectraReadout::of(self.basis, &range),
            front_wheel: self.slips.read(End::Front, self.basis, &range),
            rear_wheel: self.slips.read(End::Rear, self.basis, &range),
            front,
            rear,
        }
    }

    fn distance(&self, range: &Range<usize>) -> Result<f64, NotMeasured> {
        let speed = &self.basis.scaled_speed_mps()?[range.clone()];
        let missing = speed.iter().filter(|v| v.is_nan()).count();
        if missing * 20 > range.len() {
            return Err(NotMeasured::because("speed is missing for more than a twentieth of the time"));
        }
        Ok(distance_m(speed, self.basis.rate_hz()).last().copied().unwrap_or(0.0))
    }

    fn end(&self, end: End, range: &Range<usize>) -> EndReadout {
        let travel = self.travel(end, range).unwrap_or_else(|reason| TravelReadout::not(&reason));
        let axle_speed = self.axle_speed(end, range).unwrap_or_else(|reason| AxleSpeedReadout::not(&reason));
        let sag = self.sag_m(end);
        let accel = self.axle_accel(end, range);
        let (recovery, rebound) = self
            .recovery(end, range)
            .unwrap_or_else(|reason| (RecoveryReadout::not(&reason), ReboundReadout::not(&reason)));
        EndReadout {
            recovery,
            rebound,
            packing: PackingReadout::of(self.basis, end, range),
            bench_bounce: BenchBounceReadout::of(self.basis, end),
            sag_share: sag.clone().map(|sag_m| sag_m / self.basis.bike.travel_m(end)).into(),
            sag_m: sag.into(),
            axle_accel_rms_mps2: accel.clone().map(|[rms, _]| rms).into(),
            axle_accel_p99_mps2: accel.map(|[_, p99]| p99).into(),
            harshness_per_s: self.harshness.per_s(self.basis, end, range),
            contact: self.contact.read(end, range),
            travel,
            axle_speed,
        }
    }

    fn travel(&self, end: End, range: &Range<usize>) -> Result<TravelReadout, NotMeasured> {
        let basis = self.basis;
        let mut readout = TravelReadout::of(TravelInput {
            travel_m: &basis.placed_travel_m(end)?[range.clone()],
            speed_mps: basis.axle_speed_mps(end).map(|speed| &speed[range.clone()]),
            slow_m: &basis.slow_travel_m(end)?[range.clone()],
            grounded: &basis.grounded[range.clone()],
            full_m: basis.bike.travel_m(end),
            rate_hz: basis.rate_hz(),
        });
        let fast = basis.needs_rate(Role::Travel(end), PEAK_SPEED_RATE_HZ, "speeds at the stops need");
        if let Err(reason) = fast {
            readout.bottom_out_speeds_mps = Measured::not(reason.clone());
            readout.top_outs = Measured::not(reason);
        }
        Ok(readout)
    }

    fn axle_speed(&self, end: End, range: &Range<usize>) -> Result<AxleSpeedReadout, NotMeasured> {
        let speed_mps = &self.basis.axle_speed_mps(end)?[range.clone()];
        let native_hz = self.basis.native_rate_hz(Role::Travel(end)).unwrap_or_default();
        Ok(AxleSpeedReadout::of(speed_mps, &self.basis.rolling[range.clone()], native_hz))
    }

    fn recovery(
        &self,
        end: End,
        range: &Range<usize>,
    ) -> Result<(RecoveryReadout, ReboundReadout), NotMeasured> {
        let short = range.len() < self.basis.samples(OWN_RIDE_HEIGHT_S);
        let stretch = if short { 0..self.basis.len() } else { range.clone() };
        let returns = returns(self.basis, end, range, self.basis.ride_height_m(end, stretch)?)?;
        let recovery = RecoveryReadout::of(&returns, self.basis.bike.travel_m(end));
        Ok((recovery, ReboundReadout::of(self.basis, end, range, &returns)))
    }

    /// Median travel of the longest still second or more before the bike rolls.
    fn sag_m(&self, end: End) -> Result<f64, NotMeasured> {
        let (travel, slow) = (self.basis.placed_travel_m(end)?, self.basis.slow_travel_m(end)?);
        let rolling = &self.basis.rolling;
        let start = rolling.iter().position(|rolling| *rolling).unwrap_or(rolling.len());
        ranges_where(start, self.basis.samples(1.0), |i| (travel[i] - slow[i]).abs() < STILL_M)
            .into_iter()
            .max_by_key(std::iter::ExactSizeIterator::len)
            .and_then(|still| median(&travel[still]))
            .ok_or_else(|| {
                NotMeasured::because("this end never stood still for a second before the bike rolled")
            })
    }

    /// RMS and 99th percentile of the axle's vertical acceleration about its mean, while rolling.
    fn axle_accel(&self, end: End, range: &Range<usize>) -> Result<[f64; 2], NotMeasured> {
        let place = if end == End::Front { Place::FrontAxle } else { Place::RearAxle };
        let role = Role::Accel(place, Axis::Z);
        if self.basis.native_rate_hz(role).is_none() {
            return Err(NotMeasured::because("no accelerometer is fitted to this axle"));
        }
        let accel = self.basis.logged(role)?;
        let rolling = || {
            let rolls = |&i: &usize| self.basis.rolling[i] && !accel[i].is_nan();
            range.clone().filter(rolls).map(|i| f64::from(accel[i]))
        };
        let never = || NotMeasured::because("the bike never rolls here");
        let mean = rolling().sum::<f64>() / rolling().count() as f64;
        let size: Vec<f64> = rolling().map(|a| (a - mean).abs()).collect();
        let rms = sd(rolling().map(|a| a as f32)).ok_or_else(never)?;
        Ok([rms, percentile(&size, 99.0).ok_or_else(never)?])
    }

    fn level(&self, range: &Range<usize>, front: &EndReadout, rear: &EndReadout) -> LevelReadout {
        let basis = self.basis;
        let grounded_sd = |trace| {
            let samples = self.both_ends(trace)?;
            sd(range.clone().filter(|&i| basis.grounded[i]).map(|i| samples[i]))
                .ok_or_else(|| NotMeasured::because("the bike never rolls on the ground here"))
        };
        let both =
            |of: fn(&EndReadout) -> &Measured| Ok::<_, NotMeasured>((*of(front).get()?, *of(rear).get()?));
        let pitch_rate = self.pitch_rate.as_ref().map_err(Clone::clone).and_then(|rate| {
            sd(range.clone().filter(|&i| basis.rolling[i]).map(|i| rate[i]))
                .ok_or_else(|| NotMeasured::because("the bike never rolls here"))
        });
        let bench = self.bench_bounce(range);
        let [kick_p50_radps, kick_p95_radps] = kick(basis, &self.pitch_rate, range);
        LevelReadout {
            evenness: self.evenness.read(range),
            hit_pairs: self.hit_pairs.read(self.span_s(range)),
            kick_p50_radps,
            kick_p95_radps,
            bench_pitch_gain: bench.clone().map(|found| found.gain).into(),
            bench_pitch_coherence: bench.map(|found| found.coherence).into(),
            pitch_chord_rms_rad: grounded_sd(Trace::ChordPitch).into(),
            pitch_at_ride_height_rad: both(|end| &end.travel.ride_height_m)
                .map(|(front, rear)| chord_pitch_rad(basis.bike, front, rear))
                .into(),
            ride_height_offset_share: both(|end| &end.travel.ride_height_share)
                .map(|(front, rear)| front - rear)
                .into(),
            heave_rms_m: grounded_sd(Trace::Heave).into(),
            pitch_rate_rms_radps: pitch_rate.into(),
        }
    }

    /// A trace made of travel at both ends.
    fn both_ends(&self, trace: Trace) -> Result<&'a [f32], NotMeasured> {
        self.basis.travel_m(End::Front)?;
        self.basis.travel_m(End::Rear)?;
        self.basis.derived(trace, "it needs travel at both ends")
    }

    fn bench_bounce(&self, range: &Range<usize>) -> Result<PitchAgreement, NotMeasured> {
        if self.basis.speed_mps().is_err() || range.clone().any(|i| self.basis.rolling[i]) {
            // Both wheels then stand on slopes of their own, which the gyro feels and travel does not.
            return Err(NotMeasured::because(
                "only a bike that is bounced standing on a flat floor shows it",
            ));
        }
        let chord = &self.both_ends(Trace::ChordPitch)?[range.clone()];
        let gyro = &self.basis.logged(Role::Gyro(Place::Frame, Axis::Y))?[range.clone()];
        pitch_agreement(chord, gyro, self.basis.rate_hz())
    }

    fn attitude(&self, range: &Range<usize>) -> AttitudeReadout {
        let part = |trace| {
            self.attitude.as_ref().map_err(Clone::clone)?;
            Ok::<_, NotMeasured>(&self.basis.derived(trace, "attitude is not measured")?[range.clone()])
        };
        let never = || NotMeasured::because("attitude is missing all through");
        let lean = part(Trace::Roll).and_then(|roll| {
            let finite = roll.iter().filter(|v| !v.is_nan());
            finite.copied().max_by(|a, b| a.abs().total_cmp(&b.abs())).map(f64::from).ok_or_else(never)
        });
        let pitch = part(Trace::Pitch).and_then(|pitch| sd(pitch.iter().copied()).ok_or_else(never));
        let corners = self.attitude.as_ref().map_err(Clone::clone);
        let corners = corners.and_then(|_| self.corners.read(self.span_s(range)));
        AttitudeReadout {
            corners: corners.into(),
            lean_max_rad: lean.into(),
            pitch_rms_rad: pitch.into(),
            speed_used: self.attitude.clone().unwrap_or(false),
        }
    }

    /// Time from the first sample of a range to the one after its last, s.
    fn span_s(&self, range: &Range<usize>) -> Range<f64> {
        self.basis.time_s(range.start)..self.basis.time_s(range.end)
    }

    fn flights_in(&self, range: &Range<usize>) -> Result<Vec<Flight>, NotMeasured> {
        let flights = self.basis.flights.as_ref().map_err(Clone::clone)?;
        Ok(flights
            .iter()
            .filter(|flight| range.contains(&flight.start))
            .map(|flight| Flight {
                start_s: self.basis.time_s(flight.start),
                end_s: self.basis.time_s(flight.end),
            })
            .collect())
    }
}

fn vibration_input<'a>(basis: &Basis<'a>) -> VibrationInput<'a> {
    let native_hz = |role| basis.native_rate_hz(role).unwrap_or_default();
    let bar = |axis| Role::Accel(Place::Bar, axis);
    let up = Role::Accel(Place::Frame, Axis::Z);
    VibrationInput {
        bar_mps2: basis.triad(bar),
        bar_native_hz: Axis::ALL.map(|axis| native_hz(bar(axis))).into_iter().fold(f64::INFINITY, f64::min),
        frame_up_mps2: basis.logged(up),
        frame_native_hz: native_hz(up),
        rate_hz: basis.rate_hz(),
    }
}

/// Standard deviation about the mean of what is not missing.
fn sd(samples: impl Iterator<Item = f32> + Clone) -> Option<f64> {
    let finite = samples.filter(|v| !v.is_nan()).map(f64::from);
    let n = finite.clone().count();
    if n == 0 {
        return None;
    }
    let mean = finite.clone().sum::<f64>() / n as f64;
    Some((finite.map(|v| (v - mean).powi(2)).sum::<f64>() / n as f64).sqrt())
}
