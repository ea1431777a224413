//! What really happened in a run.

use crate::bike::{Bike, Geometry};
use crate::pace::Demand;
use crate::plane::{Ends, State};

/// Rate of every series in [`Truth`].
pub const RECORD_HZ: f64 = 1000.0;

/// One recording instant.
#[derive(Clone, Copy, Debug)]
pub struct Moment {
    /// State of the plane.
    pub state: State,
    /// Travel and loads.
    pub ends: Ends,
    /// Levers and pedals.
    pub demand: Demand,
    /// Standing still.
    pub held: bool,
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
    /// Front brake pressure.
    pub front_brake_pa: Vec<f32>,
    /// Rear brake pressure.
    pub rear_brake_pa: Vec<f32>,
    /// Turns of the rear wheel since the start.
    pub rear_wheel_turns: Vec<f64>,
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
            rear_wheel_turns: Vec::new(),
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

    pub(crate) fn push(&mut self, moment: &Moment, bike: &Bike) {
        const PA_PER_BAR: f64 = 1e5;
        let Moment { state, ends, demand, held } = moment;
        self.distance_m.push(state.distance_m);
        self.speed_mps.push(state.speed_mps as f32);
        self.front_travel_m.push(ends.front_travel_m as f32);
        self.rear_travel_m.push(ends.rear_travel_m as f32);
        self.front_speed_mps.push(ends.front_speed_mps as f32);
        self.rear_speed_mps.push(ends.rear_speed_mps as f32);
        self.shock_stroke_m.push(bike.linkage.stroke_m(ends.rear_travel_m) as f32);
        self.front_load_n.push(ends.front_load_n as f32);
        self.rear_load_n.push(ends.rear_load_n as f32);
        self.front_brake_pa.push((PA_PER_BAR * demand.front_brake_bar) as f32);
        self.rear_brake_pa.push((PA_PER_BAR * demand.rear_brake_bar) as f32);
        // The rear wheel rolls with the contact point, which the axle's path moves a little back and forth.
        let turned = self.rear_wheel_turns.last().copied().unwrap_or(0.0);
        let rolled_mps =
            if *held { 0.0 } else { state.speed_mps - bike.geometry.rear_path_back * ends.rear_speed_mps };
        let circumference_m = std::f64::consts::TAU * bike.geometry.wheel_radius_m;
        self.rear_wheel_turns.push(turned + rolled_mps.max(0.0) / (RECORD_HZ * circumference_m));
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
