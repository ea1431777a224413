//! What every reading of a run starts from, found once.

use std::collections::BTreeMap;
use std::ops::Range;

use super::brakes::{Application, applications};
use super::contact::{airborne, on_the_ground};
use super::hits::{Hit, hits};
use super::rolling::rolling;
use super::{Trace, Traces};
use crate::bike::Bike;
use crate::measured::NotMeasured;
use crate::role::{Axis, End, Place, Role};
use crate::signal::{Resolution, Sos, median};

/// Specific force faster than this is vibration, Hz.
const FORCE_BAND_HZ: f64 = 15.0;

/// Specific force must be logged this fast, Hz.
const FORCE_RATE_HZ: f64 = 100.0;

/// Order of each flank of a band.
const BAND_ORDER: usize = 4;
/// How much faster than the upper end of a band a channel must be logged: the straight lines between
/// samples then still carry 74 % of a tone at that end, (sin(0.3 pi) / 0.3 pi)^2, and the filter before
/// a slower grid, at 0.4 of its rate, lies above the band. At 2.5 times the rate it would be 57 %.
const RATE_OVER_BAND: f64 = 10.0 / 3.0;

/// Strokes need travel logged this fast, Hz: at 50 Hz recovery is a quarter longer, the share of fast strokes
/// a seventh less, and the deepest travel 4 % (model).
const STROKE_RATE_HZ: f64 = 100.0;

/// Why channels of a run may not be used, by role.
#[derive(Clone, Debug, Default)]
pub struct Unfit {
    /// Dead, clipped, or contradicted by another: for nothing.
    pub all: BTreeMap<Role, NotMeasured>,
    /// Off zero or off scale: not for where an end stands in its travel.
    pub level: BTreeMap<Role, NotMeasured>,
    /// Noisy: not for peaks, strokes and speeds.
    pub detail: BTreeMap<Role, NotMeasured>,
}

impl Unfit {
    /// Why a channel may be used for nothing.
    pub fn get(&self, role: Role) -> Option<&NotMeasured> {
        self.all.get(&role)
    }

    /// Whether peaks, strokes and speeds may be read from a channel.
    pub fn allows_detail(&self, role: Role) -> bool {
        self.allows(role) && !self.detail.contains_key(&role)
    }

    /// Whether a channel may be used for anything.
    pub fn allows(&self, role: Role) -> bool {
        self.get(role).is_none()
    }
}

/// A run on its grid with what its readings share: who wants a channel asks here and gets it, or the
/// reason why it may not be used.
pub struct Basis<'a> {
    traces: &'a Traces,
    /// The bike.
    pub bike: &'a Bike,
    unfit: &'a Unfit,
    /// Flights of the whole run, in order.
    pub flights: Result<Vec<Range<usize>>, NotMeasured>,
    /// Whether the bike rolls, by sample.
    pub rolling: Vec<bool>,
    /// Whether it rolls and is not in flight, by sample.
    pub grounded: Vec<bool>,
    hits: [Result<Vec<Hit>, NotMeasured>; 2],
    applications: [Result<Vec<Application>, NotMeasured>; 2],
}

impl<'a> Basis<'a> {
    /// Prepares a run. `force_mps2`: see [`force_mps2`].
    pub fn new(traces: &'a Traces, bike: &'a Bike, unfit: &'a Unfit, force_mps2: Option<&[f32]>) -> Self {
        let nothing = NotMeasured::because("nothing was prepared");
        let mut basis = Self {
            traces,
            bike,
            unfit,
            flights: Err(nothing.clone()),
            rolling: rolling(traces, unfit),
            grounded: Vec::new(),
            hits: [Err(nothing.clone()), Err(nothing.clone())],
            applications: [Err(nothing.clone()), Err(nothing)],
        };
        basis.flights = basis
            .placed_travel_m(End::Front)
            .and_then(|front| Ok((front, basis.placed_travel_m(End::Rear)?)))
            .map(|(front, rear)| airborne(front, rear, force_mps2, basis.rate_hz()));
        basis.grounded = on_the_ground(&basis.rolling, basis.flights.as_deref().unwrap_or_default());
        basis.hits = End::BOTH.map(|end| Ok(hits(basis.sharp_travel_m(end)?, bike.travel_m(end))));
        basis.applications = End::BOTH.map(|end| Ok(applications(basis.brake_pa(end)?, basis.rate_hz())));
        basis
    }

    /// Samples a second of every trace, Hz.
    pub fn rate_hz(&self) -> f64 {
        self.traces.grid().rate_hz
    }

    /// Number of samples of every trace.
    pub fn len(&self) -> usize {
        self.traces.grid().len
    }

    /// Time of a sample on the run's clock, s.
    pub fn time_s(&self, sample: usize) -> f64 {
        self.traces.grid().time_s(sample)
    }

    /// A number of seconds in whole samples.
    pub fn samples(&self, seconds: f64) -> usize {
        (seconds * self.rate_hz()).round() as usize
    }

    /// A logged channel that may be used.
    pub fn logged(&self, role: Role) -> Result<&'a [f32], NotMeasured> {
        if let Some(reason) = self.unfit.get(role) {
            return Err(reason.clone());
        }
        self.traces
            .get(Trace::Logged(role))
            .ok_or_else(|| NotMeasured::because(format!("no {} is logged", role.words())))
    }

    /// The three axes of one sensor.
    pub fn triad(&self, role: impl Fn(Axis) -> Role) -> Result<[&'a [f32]; 3], NotMeasured> {
        Ok([self.logged(role(Axis::X))?, self.logged(role(Axis::Y))?, self.logged(role(Axis::Z))?])
    }

    /// The rate at which a channel was logged, Hz.
    pub fn native_rate_hz(&self, role: Role) -> Option<f64> {
        self.traces.logged().get(role).map(|channel| channel.native_rate_hz)
    }

    /// What the sensor of a channel can tell apart, SI.
    pub fn resolution(&self, role: Role) -> Resolution {
        self.traces.logged().get(role).map(|channel| channel.resolution).unwrap_or_default()
    }

    /// Whether a channel was logged at `rate_hz` at least, which `what` ("peak speeds need") asks for.
    pub fn needs_rate(&self, role: Role, rate_hz: f64, what: &str) -> Result<(), NotMeasured> {
        match self.native_rate_hz(role) {
            // 99 % of the rate, since a logger's crystal is never exact.
            Some(native) if native < 0.99 * rate_hz => Err(NotMeasured::because(format!(
                "{} is logged at {native:.0} Hz; {what} {rate_hz:.0} Hz",
                role.words()
            ))),
            _ => Ok(()),
        }
    }

    /// A channel between two frequencies, Hz (Butterworth, zero-phase), each stretch of samples on its own.
    ///
    /// # Errors
    /// Where the channel may not be used, or was logged (or the grid is) too slow for it: see
    /// [`RATE_OVER_BAND`].
    pub fn in_band(&self, role: Role, [low_hz, high_hz]: [f64; 2]) -> Result<Vec<f32>, NotMeasured> {
        let samples = self.logged(role)?;
        let needed_hz = RATE_OVER_BAND * high_hz;
        self.needs_rate(role, needed_hz, &format!("what it does up to {high_hz:.0} Hz needs"))?;
        let too_slow = || NotMeasured::because(format!("{high_hz:.0} Hz needs travel at {needed_hz:.0} Hz"));
        if self.rate_hz() < 0.99 * needed_hz {
            return Err(too_slow());
        }
        let band = Sos::band_pass(BAND_ORDER, low_hz, high_hz, self.rate_hz()).map_err(|_| too_slow())?;
        Ok(band.zero_phase_stretches(samples))
    }

    /// Axle travel, m.
    pub fn travel_m(&self, end: End) -> Result<&'a [f32], NotMeasured> {
        self.logged(Role::Travel(end))
    }

    /// The same for where the end stands between full extension and full travel: with a zero and a scale
    /// that nothing contradicts.
    pub fn placed_travel_m(&self, end: End) -> Result<&'a [f32], NotMeasured> {
        let travel = self.travel_m(end)?;
        self.unfit.level.get(&Role::Travel(end)).map_or(Ok(travel), |reason| Err(reason.clone()))
    }

    /// The same for peaks, strokes and speeds: without noise that looks like them, and fast enough.
    pub fn sharp_travel_m(&self, end: End) -> Result<&'a [f32], NotMeasured> {
        let travel = self.travel_m(end)?;
        self.needs_rate(Role::Travel(end), STROKE_RATE_HZ, "strokes need")?;
        self.unfit.detail.get(&Role::Travel(end)).map_or(Ok(travel), |reason| Err(reason.clone()))
    }

    /// Axle speed, m/s, + compression.
    pub fn axle_speed_mps(&self, end: End) -> Result<&'a [f32], NotMeasured> {
        self.sharp_travel_m(end)?;
        self.derived(Trace::AxleSpeed(end), "travel is logged in pieces too short for a speed")
    }

    /// Travel below 0.5 Hz, m.
    pub fn slow_travel_m(&self, end: End) -> Result<&'a [f32], NotMeasured> {
        self.travel_m(end)?;
        self.derived(Trace::RideHeight(end), "travel is logged in pieces too short for a ride height")
    }

    /// Median travel of a stretch while it rolls on the ground, m, from wherever the zero is.
    pub fn ride_height_m(&self, end: End, range: Range<usize>) -> Result<f64, NotMeasured> {
        let travel = &self.travel_m(end)?[range.clone()];
        let rolled = travel.iter().zip(&self.grounded[range]).filter(|(_, on)| **on);
        let rolled: Vec<f32> = rolled.map(|(travel, _)| *travel).collect();
        median(&rolled)
            .ok_or_else(|| NotMeasured::because("the bike never rolls on the ground while travel is logged"))
    }

    /// Brake pressure, Pa.
    pub fn brake_pa(&self, end: End) -> Result<&'a [f32], NotMeasured> {
        self.logged(Role::Brake(end))
    }

    /// Speed of the bike, m/s.
    pub fn speed_mps(&self) -> Result<&'a [f32], NotMeasured> {
        self.derived(Trace::Speed, "no speed is logged")
    }

    /// The same for how fast it is: where nothing contradicts the scale of what it comes from.
    pub fn scaled_speed_mps(&self) -> Result<&'a [f32], NotMeasured> {
        let speed = self.speed_mps()?;
        let doubted = End::BOTH.map(|end| self.unfit.level.get(&Role::WheelSpeed(end)));
        doubted.into_iter().flatten().next().map_or(Ok(speed), |reason| Err(reason.clone()))
    }

    /// Lean, rad, + right.
    pub fn roll_rad(&self) -> Result<&'a [f32], NotMeasured> {
        self.derived(Trace::Roll, "lean is not measured")
    }

    /// Turn rate about the earth's vertical, rad/s, + left.
    pub fn yaw_rate_radps(&self) -> Result<&'a [f32], NotMeasured> {
        self.derived(Trace::YawRate, "turning is not measured")
    }

    /// Acceleration of the frame along one axis, m/s^2 of specific force.
    pub fn frame_accel_mps2(&self, axis: Axis) -> Result<&'a [f32], NotMeasured> {
        self.logged(Role::Accel(Place::Frame, axis))
    }

    /// A trace that was derived, or the reason why there is none.
    pub fn derived(&self, trace: Trace, reason: &str) -> Result<&'a [f32], NotMeasured> {
        self.traces.get(trace).ok_or_else(|| NotMeasured::because(reason))
    }

    /// Hits of one end in the whole run, in order.
    pub fn hits(&self, end: End) -> Result<&[Hit], NotMeasured> {
        self.hits[end as usize].as_deref().map_err(Clone::clone)
    }

    /// Applications of one brake in the whole run, in order.
    pub fn applications(&self, end: End) -> Result<&[Application], NotMeasured> {
        self.applications[end as usize].as_deref().map_err(Clone::clone)
    }
}

/// Magnitude of the frame's specific force below 15 Hz, m/s^2, if it is measured on three axes, at 100 Hz at
/// least: slower, vibration is folded back into what looks like falling.
pub fn force_mps2(traces: &Traces, unfit: &Unfit) -> Option<Vec<f32>> {
    if Axis::ALL.iter().any(|&axis| !unfit.allows(Role::Accel(Place::Frame, axis))) {
        return None;
    }
    let fast = |&axis: &Axis| {
        let channel = traces.logged().get(Role::Accel(Place::Frame, axis));
        channel.is_some_and(|channel| channel.native_rate_hz >= 0.99 * FORCE_RATE_HZ)
    };
    if !Axis::ALL.iter().all(fast) {
        return None;
    }
    let triad = traces.logged().triad(|axis| Role::Accel(Place::Frame, axis))?;
    let filter = Sos::low_pass(2, FORCE_BAND_HZ, traces.grid().rate_hz);
    let [x, y, z] = triad.map(|axis| match &filter {
        Ok(filter) => filter.zero_phase_stretches(axis),
        // A grid too slow for vibration has none to take out.
        Err(_) => axis.to_vec(),
    });
    Some((0..x.len()).map(|i| (x[i] * x[i] + y[i] * y[i] + z[i] * z[i]).sqrt()).collect())
}
