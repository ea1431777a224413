//! The bike: geometry, masses and the parts that a setup sheet can change.

use crate::brake::Brake;
use crate::suspension::{AirSpring, Damper, DamperLaw, Linkage, Spring, Stops, Unit};
use crate::wheel::Grip;

/// Where things are, at full extension.
#[derive(Clone, Copy, Debug)]
pub struct Geometry {
    /// Fork angle from the horizontal.
    pub head_angle_rad: f64,
    /// Distance of the axles.
    pub wheelbase_m: f64,
    /// Sprung centre of mass ahead of the rear axle.
    pub mass_centre_ahead_m: f64,
    /// Sprung centre of mass above the ground.
    pub mass_centre_height_m: f64,
    /// Wheel radius.
    pub wheel_radius_m: f64,
    /// Full travel of the front axle, along the fork.
    pub front_travel_m: f64,
    /// Full travel of the rear axle.
    pub rear_travel_m: f64,
    /// How far the rear axle goes back per metre of travel.
    pub rear_path_back: f64,
    /// How far the rear contact of a braked wheel goes back per metre of travel: brake force compresses the rear by it.
    pub rear_anti_rise: f64,
}

/// One end of the bike.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum End {
    /// The fork's.
    Front,
    /// The shock's.
    Rear,
}

impl End {
    /// Both.
    pub const BOTH: [Self; 2] = [Self::Front, Self::Rear];
}

/// A tyre, as the contact sees it.
#[derive(Clone, Copy, Debug)]
pub struct Tyre {
    /// Vertical stiffness.
    pub stiffness_n_per_m: f64,
    /// Vertical damping.
    pub damping_n_s_per_m: f64,
}

/// Everything the pitch plane needs to know of the bike.
#[derive(Clone, Copy, Debug)]
pub struct Bike {
    /// Geometry.
    pub geometry: Geometry,
    /// Sprung mass of the bike alone.
    pub frame_mass_kg: f64,
    /// Its moment of inertia in pitch, with the rider's hands and feet.
    pub frame_inertia_kg_m2: f64,
    /// Moment of inertia of frame and wheels in roll, with the rider's hands and feet.
    pub roll_inertia_kg_m2: f64,
    /// The same in yaw.
    pub yaw_inertia_kg_m2: f64,
    /// Front wheel and lower fork legs.
    pub front_unsprung_kg: f64,
    /// Rear wheel and part of the swingarm.
    pub rear_unsprung_kg: f64,
    /// Fork, in its own travel.
    pub fork: Unit,
    /// Shock, in its own stroke.
    pub shock: Unit,
    /// From axle to shock.
    pub linkage: Linkage,
    /// Front tyre.
    pub front_tyre: Tyre,
    /// Rear tyre.
    pub rear_tyre: Tyre,
    /// Braking force at the front contact per bar that makes torque, the wheel turning steadily.
    pub front_brake_n_per_bar: f64,
    /// Braking force at the rear contact per bar that makes torque, the wheel turning steadily.
    pub rear_brake_n_per_bar: f64,
    /// Front brake, lever to caliper.
    pub front_brake: Brake,
    /// Rear brake, lever to caliper.
    pub rear_brake: Brake,
    /// Moment of inertia of the front wheel about its axle.
    pub front_wheel_inertia_kg_m2: f64,
    /// Moment of inertia of the rear wheel about its axle.
    pub rear_wheel_inertia_kg_m2: f64,
    /// How the tyres hold on the ground.
    pub grip: Grip,
    /// Rolling resistance on loose ground.
    pub rolling_resistance: f64,
}

/// The written state of the bike. Clicks count from closed: more clicks, less damping.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setup {
    /// Fork air pressure.
    pub fork_pressure_bar: f64,
    /// Fork rebound.
    pub fork_rebound_clicks: i32,
    /// Fork slow compression.
    pub fork_slow_compression_clicks: i32,
    /// Shock coil.
    pub shock_spring_n_per_mm: f64,
    /// Shock rebound.
    pub shock_rebound_clicks: i32,
    /// Shock slow compression.
    pub shock_slow_compression_clicks: i32,
    /// Front tyre.
    pub front_tyre_bar: f64,
    /// Rear tyre.
    pub rear_tyre_bar: f64,
}

impl Default for Setup {
    fn default() -> Self {
        Self {
            fork_pressure_bar: 4.0,
            fork_rebound_clicks: 8,
            fork_slow_compression_clicks: 8,
            shock_spring_n_per_mm: 60.0,
            shock_rebound_clicks: 8,
            shock_slow_compression_clicks: 8,
            front_tyre_bar: 1.5,
            rear_tyre_bar: 1.7,
        }
    }
}

/// Factor by which a rebound click changes a damper's slope.
const REBOUND_CLICK: f64 = 1.25;
/// The same for compression, whose clicks are finer.
const COMPRESSION_CLICK: f64 = 1.03;

/// A slope stated for eight clicks, at another number of clicks.
fn clicked(slope_n_s_per_m: f64, step: f64, clicks: i32) -> f64 {
    slope_n_s_per_m * libm::pow(step, f64::from(8 - clicks))
}

impl Bike {
    /// The demo day's bike in a given setup.
    pub fn new(setup: &Setup) -> Self {
        let linkage = Linkage { initial_ratio: 2.0 / 0.75 + 0.3, ratio_fall_per_m: 0.6 / 0.075 };
        let fork = Unit {
            spring: Spring::Air(AirSpring {
                pressure_bar: setup.fork_pressure_bar,
                area_m2: 8.0e-4,
                positive_length_m: 0.27,
                negative_length_m: 0.03,
                polytropic_exponent: 1.3,
            }),
            damper: Damper {
                compression_slow_n_s_per_m: clicked(
                    420.0,
                    COMPRESSION_CLICK,
                    setup.fork_slow_compression_clicks,
                ),
                compression_fast_n_s_per_m: 150.0,
                rebound_slow_n_s_per_m: clicked(385.0, REBOUND_CLICK, setup.fork_rebound_clicks),
                rebound_fast_n_s_per_m: clicked(225.0, REBOUND_CLICK, setup.fork_rebound_clicks),
                knee_mps: 0.3,
                law: DamperLaw::Bent,
            },
            stops: Stops {
                stroke_m: 0.200,
                bump_length_m: 0.035,
                bump_force_n: 1300.0,
                top_out_length_m: 0.004,
                top_out_force_n: 150.0,
                end_rate_n_per_m: 400e3,
                end_damping_n_s_per_m: 900.0,
            },
            friction_n: 28.0,
        };
        let shock = Unit {
            spring: Spring::Coil { rate_n_per_m: setup.shock_spring_n_per_mm * 1e3, preload_n: 90.0 },
            damper: Damper {
                compression_slow_n_s_per_m: clicked(
                    1350.0,
                    COMPRESSION_CLICK,
                    setup.shock_slow_compression_clicks,
                ),
                compression_fast_n_s_per_m: 360.0,
                rebound_slow_n_s_per_m: clicked(4300.0, REBOUND_CLICK, setup.shock_rebound_clicks),
                rebound_fast_n_s_per_m: clicked(2500.0, REBOUND_CLICK, setup.shock_rebound_clicks),
                knee_mps: 0.11,
                law: DamperLaw::Bent,
            },
            stops: Stops {
                stroke_m: 0.075,
                bump_length_m: 0.010,
                bump_force_n: 2600.0,
                top_out_length_m: 0.0012,
                top_out_force_n: 300.0,
                end_rate_n_per_m: 2500e3,
                end_damping_n_s_per_m: 6000.0,
            },
            friction_n: 45.0,
        };
        Self {
            geometry: Geometry {
                head_angle_rad: 63.0_f64.to_radians(),
                wheelbase_m: 1.250,
                mass_centre_ahead_m: 0.60,
                mass_centre_height_m: 0.62,
                wheel_radius_m: 0.355,
                front_travel_m: 0.200,
                rear_travel_m: 0.200,
                rear_path_back: 0.12,
                rear_anti_rise: 0.45,
            },
            frame_mass_kg: 10.0,
            frame_inertia_kg_m2: 2.8,
            roll_inertia_kg_m2: 2.6,
            yaw_inertia_kg_m2: 4.8,
            front_unsprung_kg: 3.2,
            rear_unsprung_kg: 3.8,
            fork,
            shock,
            linkage,
            front_tyre: Tyre {
                stiffness_n_per_m: 26e3 + 30e3 * setup.front_tyre_bar,
                damping_n_s_per_m: 60.0,
            },
            rear_tyre: Tyre { stiffness_n_per_m: 26e3 + 32e3 * setup.rear_tyre_bar, damping_n_s_per_m: 65.0 },
            front_brake_n_per_bar: 24.0,
            rear_brake_n_per_bar: 19.0,
            front_brake: Brake {
                lag_s: 0.010,
                touch_bar: 0.3,
                flex_bar_per_mps2: 0.003,
                flex_bar_per_rad: 0.01,
            },
            rear_brake: Brake {
                lag_s: 0.015,
                touch_bar: 0.3,
                flex_bar_per_mps2: 0.006,
                flex_bar_per_rad: 0.03,
            },
            front_wheel_inertia_kg_m2: 0.19,
            rear_wheel_inertia_kg_m2: 0.21,
            grip: Grip { peak_friction: 0.95, peak_slip: 0.15, relaxation_m: 0.10, damping_s: 0.002 },
            rolling_resistance: 0.025,
        }
    }

    /// Spring, damper and stops of an end.
    pub fn unit_mut(&mut self, end: End) -> &mut Unit {
        match end {
            End::Front => &mut self.fork,
            End::Rear => &mut self.shock,
        }
    }

    /// Elastic force at the rear axle at a travel.
    pub fn rear_elastic_n(&self, travel_m: f64) -> f64 {
        self.shock.elastic_force_n(self.linkage.stroke_m(travel_m)) / self.linkage.ratio(travel_m)
    }

    /// Mass of the whole bike.
    pub fn mass_kg(&self) -> f64 {
        self.frame_mass_kg + self.front_unsprung_kg + self.rear_unsprung_kg
    }

    /// Force at the rear axle at a travel and its speed.
    pub fn rear_force_n(&self, travel_m: f64, speed_mps: f64) -> f64 {
        let ratio = self.linkage.ratio(travel_m);
        self.shock.force_n(self.linkage.stroke_m(travel_m), speed_mps / ratio) / ratio
    }
}
