//! What really happened in a run.

use crate::bike::{End, Geometry};
use crate::plane::{Forces, Input, PitchPlane, State};
use crate::push::Push;
use crate::ride::START_S;
use crate::track::Track;

/// Rate of every series in [`Truth`].
pub const RECORD_HZ: f64 = 1000.0;

/// One recording instant.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// State of the plane.
    pub state: State,
    /// Loads, forces and rates.
    pub forces: Forces,
    /// What acts from outside.
    pub input: Input,
}

/// Three axes, x forward, y left, z up on the bike.
pub type Axes = [Vec<f32>; 3];

/// Series of one run, `RECORD_HZ` samples a second from time 0, SI units, signs of ISO 8855.
#[derive(Clone, Debug)]
pub struct Truth {
    /// The bike's geometry.
    pub geometry: Geometry,
    /// Distance along the track; f64 because sums of it matter.
    pub distance_m: Vec<f64>,
    /// Speed along the track.
    pub speed_mps: Vec<f32>,
    /// Front axle travel.
    pub front_travel_m: Vec<f32>,
    /// Rear axle travel.
    pub rear_travel_m: Vec<f32>,
    /// d(front travel)/dt, + compression.
    pub front_speed_mps: Vec<f32>,
    /// d(rear travel)/dt, + compression.
    pub rear_speed_mps: Vec<f32>,
    /// Shock stroke.
    pub shock_stroke_m: Vec<f32>,
    /// Front contact force; 0 = in the air.
    pub front_load_n: Vec<f32>,
    /// Rear contact force; 0 = in the air.
    pub rear_load_n: Vec<f32>,
    /// Front brake pressure at the caliper.
    pub front_brake_pa: Vec<f32>,
    /// Rear brake pressure at the caliper.
    pub rear_brake_pa: Vec<f32>,
    /// Turns of the front wheel since the start.
    pub front_wheel_turns: Vec<f64>,
    /// Turns of the rear wheel since the start.
    pub rear_wheel_turns: Vec<f64>,
    /// Speed of the front wheel's tread.
    pub front_wheel_mps: Vec<f32>,
    /// Speed of the rear wheel's tread.
    pub rear_wheel_mps: Vec<f32>,
    /// Slip of the front wheel: 0 rolls, 1 is locked.
    pub front_slip: Vec<f32>,
    /// Slip of the rear wheel.
    pub rear_slip: Vec<f32>,
    /// Front contact beside the path, + left.
    pub front_aside_m: Vec<f32>,
    /// Rear contact beside the path, + left.
    pub rear_aside_m: Vec<f32>,
    /// Force across the bike at the front contact, + left.
    pub front_side_n: Vec<f32>,
    /// Force across the bike at the rear contact, + left.
    pub rear_side_n: Vec<f32>,
    /// Load of the hands on the bars, + down.
    pub hands_load_n: Vec<f32>,
    /// Specific force at the front axle, normal to the base of the track.
    pub front_axle_mps2: Vec<f32>,
    /// Specific force at the rear axle, normal to the base of the track.
    pub rear_axle_mps2: Vec<f32>,
    /// Pushes on the bars.
    pub pushes: Vec<Push>,
    /// Frame pitch against the horizon, + nose down.
    pub pitch_rad: Vec<f32>,
    /// Frame roll, + leaning right.
    pub roll_rad: Vec<f32>,
    /// Frame yaw, + to the left, not wrapped.
    pub yaw_rad: Vec<f32>,
    /// Frame angular rate in body axes.
    pub rate_radps: Axes,
    /// Specific force at the frame's unit in body axes.
    pub frame_force_mps2: Axes,
    /// Specific force on the bars in body axes.
    pub bar_force_mps2: Axes,
    /// Position east of the start.
    pub east_m: Vec<f32>,
    /// Position north of the start.
    pub north_m: Vec<f32>,
}

impl Truth {
    /// An empty record.
    pub fn new(geometry: Geometry) -> Self {
        Self {
            geometry,
            distance_m: Vec::new(),
            speed_mps: Vec::new(),
            front_travel_m: Vec::new(),
            rear_travel_m: Vec::new(),
            front_speed_mps: Vec::new(),
            rear_speed_mps: Vec::new(),
            shock_stroke_m: Vec::new(),
            front_load_n: Vec::new(),
            rear_load_n: Vec::new(),
            front_brake_pa: Vec::new(),
            rear_brake_pa: Vec::new(),
            front_wheel_turns: Vec::new(),
            rear_wheel_turns: Vec::new(),
            front_wheel_mps: Vec::new(),
            rear_wheel_mps: Vec::new(),
            front_slip: Vec::new(),
            rear_slip: Vec::new(),
            front_aside_m: Vec::new(),
            rear_aside_m: Vec::new(),
            front_side_n: Vec::new(),
            rear_side_n: Vec::new(),
            hands_load_n: Vec::new(),
            front_axle_mps2: Vec::new(),
            rear_axle_mps2: Vec::new(),
            pushes: Vec::new(),
            pitch_rad: Vec::new(),
            roll_rad: Vec::new(),
            yaw_rad: Vec::new(),
            rate_radps: Default::default(),
            frame_force_mps2: Default::default(),
            bar_force_mps2: Default::default(),
            east_m: Vec::new(),
            north_m: Vec::new(),
        }
    }

    pub(crate) fn push(&mut self, moment: &Moment, plane: &PitchPlane) {
        const PA_PER_BAR: f64 = 1e5;
        let Moment { state, forces, input } = moment;
        let ends = &forces.ends;
        let (bike, sideways) = (plane.bike(), plane.sideways());
        let radius_m = bike.geometry.wheel_radius_m;
        self.distance_m.push(state.distance_m);
        self.speed_mps.push(state.speed_mps as f32);
        self.front_travel_m.push(ends.front_travel_m as f32);
        self.rear_travel_m.push(ends.rear_travel_m as f32);
        self.front_speed_mps.push(ends.front_speed_mps as f32);
        self.rear_speed_mps.push(ends.rear_speed_mps as f32);
        self.shock_stroke_m.push(bike.linkage.stroke_m(ends.rear_travel_m) as f32);
        self.front_load_n.push(ends.front_load_n as f32);
        self.rear_load_n.push(ends.rear_load_n as f32);
        self.front_brake_pa.push((PA_PER_BAR * input.front_brake_bar) as f32);
        self.rear_brake_pa.push((PA_PER_BAR * input.rear_brake_bar) as f32);
        self.front_wheel_turns.push(state.front_wheel.angle_rad / std::f64::consts::TAU);
        self.rear_wheel_turns.push(state.rear_wheel.angle_rad / std::f64::consts::TAU);
        self.front_wheel_mps.push((radius_m * state.front_wheel.speed_radps) as f32);
        self.rear_wheel_mps.push((radius_m * state.rear_wheel.speed_radps) as f32);
        self.front_slip.push(ends.front_slip(state, radius_m) as f32);
        self.rear_slip.push(ends.rear_slip(state, radius_m) as f32);
        self.front_aside_m.push(sideways.front_contact_m(&state.sway) as f32);
        self.rear_aside_m.push(sideways.rear_contact_m(&state.sway) as f32);
        self.front_side_n.push(forces.front_side_n as f32);
        self.rear_side_n.push(forces.rear_side_n as f32);
        self.hands_load_n.push(forces.hands_n as f32);
        self.front_axle_mps2.push(forces.front_axle_mps2 as f32);
        self.rear_axle_mps2.push(forces.rear_axle_mps2 as f32);
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.distance_m.len()
    }

    /// True before anything was recorded.
    pub fn is_empty(&self) -> bool {
        self.distance_m.is_empty()
    }

    /// Length of the recording.
    pub fn duration_s(&self) -> f64 {
        self.len().saturating_sub(1) as f64 / RECORD_HZ
    }

    /// True where neither wheel is pressed to the ground.
    pub fn is_airborne(&self, index: usize) -> bool {
        self.front_load_n[index] <= 0.0 && self.rear_load_n[index] <= 0.0
    }

    /// Start and end of every lock-up of a wheel, in seconds: slip of at least 0.8 above 2 m/s, with the wheel pressed to
    /// the ground for at least `shortest_s` of it. A wheel that skips over a bump stays locked.
    pub fn lockups(&self, end: End, shortest_s: f64) -> Vec<(f64, f64)> {
        const LOCKED: f32 = 0.8;
        const SLOWEST_MPS: f32 = 2.0;
        let (slip, load_n) = match end {
            End::Front => (&self.front_slip, &self.front_load_n),
            End::Rear => (&self.rear_slip, &self.rear_load_n),
        };
        let pressed_s = |start_s: f64, end_s: f64| {
            let index = |time_s: f64| (time_s * RECORD_HZ).round() as usize;
            load_n[index(start_s)..index(end_s)].iter().filter(|load_n| **load_n > 0.0).count() as f64
                / RECORD_HZ
        };
        self.stretches(|i| slip[i] >= LOCKED && self.speed_mps[i] > SLOWEST_MPS)
            .into_iter()
            .filter(|(start_s, end_s)| pressed_s(*start_s, *end_s) >= shortest_s)
            .collect()
    }

    /// Start and end of every stretch, in seconds, in which something holds of each sample.
    pub fn stretches(&self, holds: impl Fn(usize) -> bool) -> Vec<(f64, f64)> {
        let mut found = Vec::new();
        let mut start = None;
        for index in 0..=self.len() {
            match (index < self.len() && holds(index), start) {
                (true, None) => start = Some(index),
                (false, Some(from)) => {
                    found.push((from as f64 / RECORD_HZ, index as f64 / RECORD_HZ));
                    start = None;
                }
                _ => {}
            }
        }
        found
    }

    /// Area under a brake's pressure in Pa s between two times: the work of the hand.
    pub fn brake_area_pa_s(&self, end: End, from_s: f64, to_s: f64) -> f64 {
        let pressure_pa = match end {
            End::Front => &self.front_brake_pa,
            End::Rear => &self.rear_brake_pa,
        };
        let index = |time_s: f64| ((time_s * RECORD_HZ).round().max(0.0) as usize).min(self.len());
        let (from, to) = (index(from_s), index(to_s));
        pressure_pa[from..to.max(from)].iter().map(|pressure| f64::from(*pressure) / RECORD_HZ).sum()
    }

    /// Name of each section of a track with the times at which it is entered and left; those that were ridden whole.
    pub fn section_times_s(&self, track: &Track) -> Vec<(&'static str, f64, f64)> {
        track
            .sections
            .iter()
            .filter_map(|section| {
                let entered_s = self.time_at_distance_s(section.start_m)?;
                Some((section.name, entered_s.max(START_S), self.time_at_distance_s(section.end_m)?))
            })
            .collect()
    }

    /// When a distance is passed first.
    pub fn time_at_distance_s(&self, distance_m: f64) -> Option<f64> {
        self.distance_m.iter().position(|passed| *passed >= distance_m).map(|index| index as f64 / RECORD_HZ)
    }

    /// When the hardest landing began: both wheels in the air for at least 0.25 s, then the largest load.
    pub fn largest_landing_s(&self) -> Option<f64> {
        const FLIGHT: usize = 250;
        const AFTER: usize = 200;
        let mut largest: Option<(f32, usize)> = None;
        let mut air = 0;
        for index in 0..self.len() {
            if self.is_airborne(index) {
                air += 1;
                continue;
            }
            if air >= FLIGHT {
                let load_n = (index..(index + AFTER).min(self.len()))
                    .map(|i| self.front_load_n[i] + self.rear_load_n[i])
                    .fold(0.0, f32::max);
                if largest.is_none_or(|(most, _)| load_n > most) {
                    largest = Some((load_n, index));
                }
            }
            air = 0;
        }
        largest.map(|(_, index)| index as f64 / RECORD_HZ)
    }
}
