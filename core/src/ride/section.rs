//! The read-out of one stretch of a run.

use std::ops::Range;

use super::contact::{ROLLING_MPS, airborne, on_the_ground, ranges_where};
use super::speed::distance_m;
use super::travel::TravelInput;
use super::{
    AxleSpeedReadout, PitchAgreement, Trace, Traces, TravelReadout, chord_pitch_rad, pitch_agreement,
};
use crate::bike::Bike;
use crate::measured::{Measured, NotMeasured};
use crate::readout::{AttitudeReadout, EndReadout, Flight, LevelReadout, SectionReadout};
use crate::role::{Axis, End, Place, Role};
use crate::signal::{Sos, median, percentile};

/// Frame pitch rate is felt in this band, Hz.
const PITCH_RATE_BAND_HZ: [f64; 2] = [0.5, 12.0];
/// Specific force faster than this is vibration, Hz.
const FORCE_BAND_HZ: f64 = 15.0;
/// Without a speed: the axles move more than this on average over a second when rolling, m/s.
const ROLLING_AXLE_MPS: f32 = 0.02;

/// Magnitude of the frame's specific force below 15 Hz, m/s^2, if it is measured on three axes.
pub fn force_mps2(traces: &Traces) -> Option<Vec<f32>> {
    let triad = traces.logged().triad(|axis| Role::Accel(Place::Frame, axis))?;
    let filter = Sos::low_pass(2, FORCE_BAND_HZ, traces.grid().rate_hz);
    let [x, y, z] = triad.map(|axis| match &filter {
        Ok(filter) => filter.zero_phase_stretches(axis),
        // A grid too slow for vibration has none to take out.
        Err(_) => axis.to_vec(),
    });
    Some((0..x.len()).map(|i| (x[i] * x[i] + y[i] * y[i] + z[i] * z[i]).sqrt()).collect())
}

/// An end that stays this near to its own course below 0.5 Hz stands still, m.
const STILL_M: f32 = 0.0015;

fn no_travel(end: End) -> NotMeasured {
    NotMeasured::because(match end {
        End::Front => "no front travel is logged",
        End::Rear => "no rear travel is logged",
    })
}

/// What every section of a run is read from.
pub struct SectionInput<'a> {
    traces: &'a Traces,
    bike: &'a Bike,
    attitude: &'a Result<bool, NotMeasured>,
    /// Flights of the whole run; unknown without travel at both ends.
    flights: Option<Vec<Range<usize>>>,
    rolling: Vec<bool>,
    grounded: Vec<bool>,
    pitch_rate: Option<Vec<f32>>,
}

impl<'a> SectionInput<'a> {
    /// Prepares a run. `attitude` says whether it was found with speed, or why it was not.
    pub fn new(
        traces: &'a Traces,
        bike: &'a Bike,
        force_mps2: Option<&[f32]>,
        attitude: &'a Result<bool, NotMeasured>,
    ) -> Self {
        let rate_hz = traces.grid().rate_hz;
        let travel = [End::Front, End::Rear].map(|end| traces.get(Trace::travel(end)));
        let flights = match travel {
            [Some(front), Some(rear)] => Some(airborne(front, rear, force_mps2, rate_hz)),
            _ => None,
        };
        let rolling = rolling(traces);
        let grounded = on_the_ground(&rolling, flights.as_deref().unwrap_or_default());
        let [low_hz, high_hz] = PITCH_RATE_BAND_HZ;
        let pitch_rate = traces.get(Trace::PITCH_RATE).and_then(|gyro| {
            Some(Sos::band_pass(4, low_hz, high_hz, rate_hz).ok()?.zero_phase_stretches(gyro))
        });
        Self { traces, bike, attitude, flights, rolling, grounded, pitch_rate }
    }

    /// The whole run: from the first to the last sample that rolls, or all of it if none does.
    pub fn whole_run(&self) -> SectionReadout {
        let first = self.rolling.iter().position(|rolling| *rolling).unwrap_or(0);
        let last = self.rolling.iter().rposition(|rolling| *rolling).unwrap_or(self.rolling.len() - 1);
        self.read("run", first..last + 1)
    }

    /// Reads one stretch.
    pub fn read(&self, name: &str, range: Range<usize>) -> SectionReadout {
        let grid = self.traces.grid();
        let front = self.end(End::Front, &range);
        let rear = self.end(End::Rear, &range);
        let (start_s, end_s) = (grid.time_s(range.start), grid.time_s(range.end));
        SectionReadout {
            name: name.to_owned(),
            start_s,
            end_s,
            time_s: end_s - start_s,
            distance_m: self.distance(&range).into(),
            level: self.level(&range, &front, &rear),
            attitude: self.attitude(&range),
            airborne: self.flights_in(&range).into(),
            front,
            rear,
        }
    }

    fn distance(&self, range: &Range<usize>) -> Result<f64, NotMeasured> {
        let speed =
            self.traces.get(Trace::Speed).ok_or_else(|| NotMeasured::because("no speed is logged"))?;
        let missing = speed[range.clone()].iter().filter(|v| v.is_nan()).count();
        if missing * 20 > range.len() {
            return Err(NotMeasured::because("speed is missing for more than a twentieth of the time"));
        }
        Ok(distance_m(&speed[range.clone()], self.traces.grid().rate_hz).last().copied().unwrap_or(0.0))
    }

    fn end(&self, end: End, range: &Range<usize>) -> EndReadout {
        let (travel, axle_speed) = self.travel(end, range);
        let sag = self.sag_m(end);
        let accel = self.axle_accel(end, range);
        EndReadout {
            sag_share: sag.clone().map(|sag_m| sag_m / self.bike.travel_m(end)).into(),
            sag_m: sag.into(),
            axle_accel_rms_mps2: accel.clone().map(|[rms, _]| rms).into(),
            axle_accel_p99_mps2: accel.map(|[_, p99]| p99).into(),
            travel,
            axle_speed,
        }
    }

    fn travel(&self, end: End, range: &Range<usize>) -> (TravelReadout, AxleSpeedReadout) {
        let part = |trace| self.traces.get(trace).map(|samples| &samples[range.clone()]);
        let (Some(travel_m), Some(speed_mps), Some(channel)) = (
            part(Trace::travel(end)),
            part(Trace::AxleSpeed(end)),
            self.traces.logged().get(Role::Travel(end)),
        ) else {
            let reason = no_travel(end);
            return (TravelReadout::not(&reason), AxleSpeedReadout::not(&reason));
        };
        let travel = TravelReadout::of(TravelInput {
            travel_m,
            speed_mps,
            slow_m: part(Trace::RideHeight(end)).unwrap_or_default(),
            grounded: &self.grounded[range.clone()],
            full_m: self.bike.travel_m(end),
            rate_hz: self.traces.grid().rate_hz,
        });
        let rolling = &self.rolling[range.clone()];
        (travel, AxleSpeedReadout::of(speed_mps, rolling, channel.native_rate_hz))
    }

    /// Median travel of the longest still second or more before the bike rolls.
    fn sag_m(&self, end: End) -> Result<f64, NotMeasured> {
        let trace = |trace| self.traces.get(trace).ok_or_else(|| no_travel(end));
        let (travel, slow) = (trace(Trace::travel(end))?, trace(Trace::RideHeight(end))?);
        let start = self.rolling.iter().position(|rolling| *rolling).unwrap_or(self.rolling.len());
        let second = self.traces.grid().rate_hz.ceil() as usize;
        ranges_where(start, second, |i| (travel[i] - slow[i]).abs() < STILL_M)
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
        let accel = self
            .traces
            .get(Trace::Logged(Role::Accel(place, Axis::Z)))
            .ok_or_else(|| NotMeasured::because("no accelerometer is fitted to this axle"))?;
        let rolling =
            || range.clone().filter(|&i| self.rolling[i] && !accel[i].is_nan()).map(|i| f64::from(accel[i]));
        let never = || NotMeasured::because("the bike never rolls here");
        let mean = rolling().sum::<f64>() / rolling().count() as f64;
        let size: Vec<f64> = rolling().map(|a| (a - mean).abs()).collect();
        let rms = sd(rolling().map(|a| a as f32)).ok_or_else(never)?;
        Ok([rms, percentile(&size, 99.0).ok_or_else(never)?])
    }

    fn level(&self, range: &Range<usize>, front: &EndReadout, rear: &EndReadout) -> LevelReadout {
        let grounded_sd = |trace| {
            let samples =
                self.traces.get(trace).ok_or_else(|| NotMeasured::because("it needs travel at both ends"))?;
            sd(range.clone().filter(|&i| self.grounded[i]).map(|i| samples[i]))
                .ok_or_else(|| NotMeasured::because("the bike never rolls on the ground here"))
        };
        let both =
            |of: fn(&EndReadout) -> &Measured| Ok::<_, NotMeasured>((*of(front).get()?, *of(rear).get()?));
        let pitch_rate = self
            .pitch_rate
            .as_ref()
            .ok_or_else(|| NotMeasured::because("no frame pitch rate is logged, or it is logged too slowly"))
            .and_then(|rate| {
                sd(range.clone().filter(|&i| self.rolling[i]).map(|i| rate[i]))
                    .ok_or_else(|| NotMeasured::because("the bike never rolls here"))
            });
        let bench = self.bench_bounce(range);
        LevelReadout {
            bench_pitch_gain: bench.clone().map(|found| found.gain).into(),
            bench_pitch_coherence: bench.map(|found| found.coherence).into(),
            pitch_chord_rms_rad: grounded_sd(Trace::ChordPitch).into(),
            pitch_at_ride_height_rad: both(|end| &end.travel.ride_height_m)
                .map(|(front, rear)| chord_pitch_rad(self.bike, front, rear))
                .into(),
            ride_height_offset_share: both(|end| &end.travel.ride_height_share)
                .map(|(front, rear)| front - rear)
                .into(),
            heave_rms_m: grounded_sd(Trace::Heave).into(),
            pitch_rate_rms_radps: pitch_rate.into(),
        }
    }

    fn bench_bounce(&self, range: &Range<usize>) -> Result<PitchAgreement, NotMeasured> {
        if self.traces.get(Trace::Speed).is_none() || range.clone().any(|i| self.rolling[i]) {
            // Both wheels then stand on slopes of their own, which the gyro feels and travel does not.
            return Err(NotMeasured::because(
                "only a bike that is bounced standing on a flat floor shows it",
            ));
        }
        let part = |trace, what: &str| {
            let samples = self.traces.get(trace).map(|samples| &samples[range.clone()]);
            samples.ok_or_else(|| NotMeasured::because(format!("it needs {what}")))
        };
        let chord = part(Trace::ChordPitch, "travel at both ends")?;
        let gyro = part(Trace::PITCH_RATE, "the frame's pitch rate")?;
        pitch_agreement(chord, gyro, self.traces.grid().rate_hz)
    }

    fn attitude(&self, range: &Range<usize>) -> AttitudeReadout {
        let part = |trace| {
            let samples = self.attitude.as_ref().map(|_| self.traces.get(trace).unwrap_or_default());
            samples.map(|samples| &samples[range.clone()]).map_err(Clone::clone)
        };
        let never = || NotMeasured::because("attitude is missing all through");
        let lean = part(Trace::Roll).and_then(|roll| {
            let finite = roll.iter().filter(|v| !v.is_nan());
            finite.copied().max_by(|a, b| a.abs().total_cmp(&b.abs())).map(f64::from).ok_or_else(never)
        });
        let pitch = part(Trace::Pitch).and_then(|pitch| sd(pitch.iter().copied()).ok_or_else(never));
        AttitudeReadout {
            lean_max_rad: lean.into(),
            pitch_rms_rad: pitch.into(),
            speed_used: self.attitude.clone().unwrap_or(false),
        }
    }

    fn flights_in(&self, range: &Range<usize>) -> Result<Vec<Flight>, NotMeasured> {
        let flights =
            self.flights.as_ref().ok_or_else(|| NotMeasured::because("flights need travel at both ends"))?;
        let grid = self.traces.grid();
        Ok(flights
            .iter()
            .filter(|flight| range.contains(&flight.start))
            .map(|flight| Flight { start_s: grid.time_s(flight.start), end_s: grid.time_s(flight.end) })
            .collect())
    }
}

/// Where the bike rolls: faster than 1 m/s; without a speed, where its axles move.
fn rolling(traces: &Traces) -> Vec<bool> {
    let grid = traces.grid();
    if let Some(speed) = traces.get(Trace::Speed) {
        return speed.iter().map(|v| *v > ROLLING_MPS).collect();
    }
    let half = (grid.rate_hz / 2.0) as usize;
    let mut rolling = vec![false; grid.len];
    for end in [End::Front, End::Rear] {
        let Some(speed) = traces.get(Trace::AxleSpeed(end)) else { continue };
        let mut sum = 0.0_f64;
        let moved: Vec<f64> = std::iter::once(0.0)
            .chain(speed.iter().map(|v| {
                sum += f64::from(if v.is_nan() { 0.0 } else { v.abs() });
                sum
            }))
            .collect();
        for (i, slot) in rolling.iter_mut().enumerate() {
            let (from, to) = (i.saturating_sub(half), (i + half + 1).min(grid.len));
            *slot |= (moved[to] - moved[from]) / (to - from) as f64 > f64::from(ROLLING_AXLE_MPS);
        }
    }
    rolling
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
