//! The rider: masses on legs and arms, and habits.

use crate::bike::Bike;
use crate::sideways::Hold;

/// A limb between the bike and a part of the body; stiffens towards both ends of its reach.
#[derive(Clone, Copy, Debug)]
pub struct Limb {
    /// Mass carried.
    pub mass_kg: f64,
    /// Where it stands on the bike, ahead of the rear axle.
    pub ahead_m: f64,
    /// Stiffness around the attack position.
    pub stiffness_n_per_m: f64,
    /// Growth of the stiffness with the cube of the deflection.
    pub hardening_n_per_m3: f64,
    /// Damping.
    pub damping_n_s_per_m: f64,
}

impl Limb {
    /// Elastic force beyond the weight carried; + pushes the bike down.
    pub fn elastic_n(&self, bend_m: f64) -> f64 {
        self.stiffness_n_per_m * bend_m + self.hardening_n_per_m3 * bend_m * bend_m * bend_m
    }
}

/// One rider.
#[derive(Clone, Copy, Debug)]
pub struct Rider {
    /// Feet, hands and forearms, which move with the frame.
    pub on_frame_kg: f64,
    /// Hips and trunk, on the legs.
    pub legs: Limb,
    /// Shoulders and head, on the arms.
    pub arms: Limb,
    /// How the bike is held sideways.
    pub hold: Hold,
    /// Height above the frame's mass centre at which the rider's forward inertia reaches the bike.
    pub brace_height_m: f64,
    /// Speed against the plan of an ordinary run.
    pub pace: f64,
    /// Sideways acceleration accepted in corners.
    pub cornering_mps2: f64,
    /// Deceleration counted on before corners.
    pub braking_mps2: f64,
    /// Share of the braking force asked of the front.
    pub front_brake_share: f64,
    /// Drag area.
    pub drag_area_m2: f64,
    /// Pedalling power where pedalling is possible.
    pub pedal_power_w: f64,
    /// Attitude held in the air: torque per angle.
    pub air_torque_nm_per_rad: f64,
    /// Attitude held in the air: torque per rate.
    pub air_damping_nm_s_per_rad: f64,
    /// Largest such torque.
    pub air_torque_max_nm: f64,
}

impl Default for Rider {
    fn default() -> Self {
        Self {
            on_frame_kg: 12.0,
            legs: Limb {
                mass_kg: 51.0,
                ahead_m: 0.44,
                stiffness_n_per_m: 4200.0,
                hardening_n_per_m3: 60e3,
                damping_n_s_per_m: 420.0,
            },
            arms: Limb {
                mass_kg: 15.0,
                ahead_m: 0.95,
                stiffness_n_per_m: 1600.0,
                hardening_n_per_m3: 30e3,
                damping_n_s_per_m: 160.0,
            },
            hold: Hold {
                stiffness_n_per_m: 6000.0,
                damping_n_s_per_m: 1000.0,
                roll_nm_per_rad: 3000.0,
                roll_nm_s_per_rad: 300.0,
                yaw_nm_s_per_rad: 15.0,
                steering_radps: 1.8,
                countersteer: 0.8,
                steering_lag_s: 0.08,
            },
            brace_height_m: 0.20,
            pace: 1.0,
            cornering_mps2: 8.6,
            braking_mps2: 4.2,
            front_brake_share: 0.63,
            drag_area_m2: 0.5,
            pedal_power_w: 380.0,
            air_torque_nm_per_rad: 350.0,
            air_damping_nm_s_per_rad: 60.0,
            air_torque_max_nm: 160.0,
        }
    }
}

impl Rider {
    /// Sprung mass that rests on front and rear axle when bike and rider stand still on the level.
    pub fn carried_kg(&self, bike: &Bike) -> [f64; 2] {
        let geometry = &bike.geometry;
        let frame_kg = bike.frame_mass_kg + self.on_frame_kg;
        let moment_kg_m = frame_kg * geometry.mass_centre_ahead_m
            + self.legs.mass_kg * self.legs.ahead_m
            + self.arms.mass_kg * self.arms.ahead_m;
        let front_kg = moment_kg_m / geometry.wheelbase_m;
        [front_kg, frame_kg + self.legs.mass_kg + self.arms.mass_kg - front_kg]
    }

    /// Mass of the whole rider.
    pub fn mass_kg(&self) -> f64 {
        self.on_frame_kg + self.legs.mass_kg + self.arms.mass_kg
    }
}
