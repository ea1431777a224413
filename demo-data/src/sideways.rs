//! Across the track: the frame shoved to and fro between its tyres and its rider.
//!
//! Everything here is measured against the path, which is that of a turn in balance on ground banked to suit: what
//! is left are the ground's own cross slopes, wheels that lose their hold, and the rider who holds the bike and steers
//! it back. Frame and wheels are one body with lateral, yaw and roll freedom; the rider's trunk is another that hangs on
//! it sideways. The trunk's own roll, the wheels' gyroscopic moments and the fork's steering geometry are left out.

use crate::bike::Bike;
use crate::plane::GRAVITY_MPS2;
use crate::rider::Rider;

/// Movement across the path. Signs of ISO 8855: + left, yaw + left, roll + leaning right.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sway {
    /// Mass centre of frame and wheels beside the path.
    pub lateral_m: f64,
    /// Heading against the path's.
    pub yaw_rad: f64,
    /// Roll over the path's lean.
    pub roll_rad: f64,
    /// The rider's trunk beside the path.
    pub body_m: f64,
    /// Angle of the front wheel, + left.
    pub steer_rad: f64,
    /// d(lateral)/dt.
    pub lateral_mps: f64,
    /// d(yaw)/dt.
    pub yaw_radps: f64,
    /// d(roll)/dt.
    pub roll_radps: f64,
    /// d(body)/dt.
    pub body_mps: f64,
}

impl Sway {
    pub(crate) fn plus(&self, rate: &Self, step_s: f64) -> Self {
        Self {
            lateral_m: self.lateral_m + step_s * rate.lateral_m,
            yaw_rad: self.yaw_rad + step_s * rate.yaw_rad,
            roll_rad: self.roll_rad + step_s * rate.roll_rad,
            body_m: self.body_m + step_s * rate.body_m,
            steer_rad: self.steer_rad + step_s * rate.steer_rad,
            lateral_mps: self.lateral_mps + step_s * rate.lateral_mps,
            yaw_radps: self.yaw_radps + step_s * rate.yaw_radps,
            roll_radps: self.roll_radps + step_s * rate.roll_radps,
            body_mps: self.body_mps + step_s * rate.body_mps,
        }
    }
}

/// How a rider holds the bike sideways.
#[derive(Clone, Copy, Debug)]
pub struct Hold {
    /// Stiffness between trunk and frame, through hands, knees and feet.
    pub stiffness_n_per_m: f64,
    /// Damping between them.
    pub damping_n_s_per_m: f64,
    /// Torque that keeps the bike upright under the rider.
    pub roll_nm_per_rad: f64,
    /// The same per rate.
    pub roll_nm_s_per_rad: f64,
    /// Torque of the feet against yaw.
    pub yaw_nm_s_per_rad: f64,
    /// How briskly the line is steered back to (natural frequency).
    pub steering_radps: f64,
    /// Share of the angle between heading and movement that the front wheel is let to steer into: its trail pulls it
    /// there, and a rider catches a rear wheel that steps out.
    pub countersteer: f64,
    /// Reaction of the arms.
    pub steering_lag_s: f64,
}

/// What acts on the frame from the side.
#[derive(Clone, Copy, Debug, Default)]
pub struct SideLoad {
    /// Force at the front contact, + left.
    pub front_n: f64,
    /// Force at the rear contact, + left.
    pub rear_n: f64,
    /// Load of both contacts.
    pub pressing_n: f64,
    /// What gravity and the turn leave over across the bike, + left.
    pub leftover_mps2: f64,
    /// Speed along the path.
    pub speed_mps: f64,
    /// The rider's unrest at the bars.
    pub steer_rad: f64,
}

/// Frame, wheels and rider seen from behind and from above.
#[derive(Clone, Copy, Debug)]
pub struct Sideways {
    hold: Hold,
    mass_kg: f64,
    body_kg: f64,
    roll_inertia_kg_m2: f64,
    yaw_inertia_kg_m2: f64,
    height_m: f64,
    sprung_over_m: f64,
    ahead_m: f64,
    behind_m: f64,
}

impl Sideways {
    /// Puts a rider on a bike.
    pub fn new(bike: &Bike, rider: &Rider) -> Self {
        let geometry = &bike.geometry;
        let sprung_kg = bike.frame_mass_kg + rider.on_frame_kg;
        let mass_kg = sprung_kg + bike.front_unsprung_kg + bike.rear_unsprung_kg;
        let behind_m = (sprung_kg * geometry.mass_centre_ahead_m
            + bike.front_unsprung_kg * geometry.wheelbase_m)
            / mass_kg;
        let height_m = (sprung_kg * geometry.mass_centre_height_m
            + (mass_kg - sprung_kg) * geometry.wheel_radius_m)
            / mass_kg;
        Self {
            hold: rider.hold,
            mass_kg,
            body_kg: rider.mass_kg() - rider.on_frame_kg,
            roll_inertia_kg_m2: bike.roll_inertia_kg_m2,
            yaw_inertia_kg_m2: bike.yaw_inertia_kg_m2,
            height_m,
            sprung_over_m: geometry.mass_centre_height_m - height_m,
            ahead_m: geometry.wheelbase_m - behind_m,
            behind_m,
        }
    }

    /// The sprung mass centre beside the path.
    pub fn sprung_m(&self, sway: &Sway) -> f64 {
        sway.lateral_m - self.sprung_over_m * sway.roll_rad
    }

    /// The front contact beside the path.
    pub fn front_contact_m(&self, sway: &Sway) -> f64 {
        sway.lateral_m + self.ahead_m * sway.yaw_rad + self.height_m * sway.roll_rad
    }

    /// The rear contact beside the path.
    pub fn rear_contact_m(&self, sway: &Sway) -> f64 {
        sway.lateral_m - self.behind_m * sway.yaw_rad + self.height_m * sway.roll_rad
    }

    /// Speed of the front contact across its wheel.
    pub fn front_across_mps(&self, sway: &Sway, axle_mps: f64) -> f64 {
        sway.lateral_mps + self.ahead_m * sway.yaw_radps + self.height_m * sway.roll_radps
            - axle_mps * (sway.yaw_rad + sway.steer_rad)
    }

    /// Speed of the rear contact across its wheel.
    pub fn rear_across_mps(&self, sway: &Sway, axle_mps: f64) -> f64 {
        sway.lateral_mps - self.behind_m * sway.yaw_radps + self.height_m * sway.roll_radps
            - axle_mps * sway.yaw_rad
    }

    /// Kinetic and elastic energy; for checks.
    pub fn energy_j(&self, sway: &Sway) -> f64 {
        let hang_m = sway.body_m - sway.lateral_m;
        0.5 * (self.mass_kg * sway.lateral_mps * sway.lateral_mps
            + self.body_kg * sway.body_mps * sway.body_mps
            + self.roll_inertia_kg_m2 * sway.roll_radps * sway.roll_radps
            + self.yaw_inertia_kg_m2 * sway.yaw_radps * sway.yaw_radps
            + self.hold.stiffness_n_per_m * hang_m * hang_m
            + self.hold.roll_nm_per_rad * sway.roll_rad * sway.roll_rad)
    }

    /// d(state)/dt.
    pub fn rate(&self, sway: &Sway, load: &SideLoad) -> Sway {
        let hold = &self.hold;
        let held_n = hold.stiffness_n_per_m * (sway.body_m - sway.lateral_m)
            + hold.damping_n_s_per_m * (sway.body_mps - sway.lateral_mps);
        let contact_n = load.front_n + load.rear_n;
        // The contact is below the mass centre: a force to the left there leans the bike to the right, and so does
        // the load as soon as the contact is no longer below.
        let roll_nm = self.height_m * contact_n + self.height_m * load.pressing_n * sway.roll_rad
            - hold.roll_nm_per_rad * sway.roll_rad
            - hold.roll_nm_s_per_rad * sway.roll_radps;
        let yaw_nm = self.ahead_m * load.front_n
            - self.behind_m * load.rear_n
            - hold.yaw_nm_s_per_rad * sway.yaw_radps;
        Sway {
            lateral_m: sway.lateral_mps,
            yaw_rad: sway.yaw_radps,
            roll_rad: sway.roll_radps,
            body_m: sway.body_mps,
            steer_rad: (self.steering_rad(sway, load) - sway.steer_rad) / hold.steering_lag_s,
            lateral_mps: (contact_n + held_n) / self.mass_kg + load.leftover_mps2,
            yaw_radps: yaw_nm / self.yaw_inertia_kg_m2,
            roll_radps: roll_nm / self.roll_inertia_kg_m2,
            body_mps: -held_n / self.body_kg + load.leftover_mps2,
        }
    }

    /// What the rider steers: the trunk's distance from the line is to die away like that of a damped oscillator, and
    /// a bike that does not slide turns by `v^2 / wheelbase` per steering angle.
    fn steering_rad(&self, sway: &Sway, load: &SideLoad) -> f64 {
        const SLOWEST_MPS: f64 = 4.0;
        const DAMPING: f64 = 0.9;
        const MOST_RAD: f64 = 0.1;
        const STOP_RAD: f64 = 0.6;
        let hold = &self.hold;
        let wanted_mps2 =
            -hold.steering_radps * (hold.steering_radps * sway.body_m + 2.0 * DAMPING * sway.body_mps);
        let speed_mps = load.speed_mps.max(SLOWEST_MPS);
        let steer_rad = (self.ahead_m + self.behind_m) * wanted_mps2 / (speed_mps * speed_mps);
        let drift_rad = sway.yaw_rad - sway.body_mps / speed_mps;
        (steer_rad.clamp(-MOST_RAD, MOST_RAD) + load.steer_rad - hold.countersteer * drift_rad)
            .clamp(-STOP_RAD, STOP_RAD)
    }
}

/// A bike that stands, held upright by a leg on either side: back to the middle without swinging.
pub fn stood(sway: &Sway) -> Sway {
    const PULL_PER_S: f64 = 8.0;
    let calm = |at: f64, speed: f64| -PULL_PER_S * (PULL_PER_S * at + 2.0 * speed);
    Sway {
        lateral_m: sway.lateral_mps,
        yaw_rad: sway.yaw_radps,
        roll_rad: sway.roll_radps,
        body_m: sway.body_mps,
        steer_rad: -PULL_PER_S * sway.steer_rad,
        lateral_mps: calm(sway.lateral_m, sway.lateral_mps),
        yaw_radps: calm(sway.yaw_rad, sway.yaw_radps),
        roll_radps: calm(sway.roll_rad, sway.roll_radps),
        body_mps: calm(sway.body_m, sway.body_mps),
    }
}

/// What gravity leaves over across a bike that leans in a turn, + left: nothing where the lean is `atan(v^2 / g R)`.
pub fn leftover_mps2(slope_rad: f64, lean_rad: f64, speed_mps: f64, yaw_rate_radps: f64) -> f64 {
    let (sin, cos) = libm::sincos(lean_rad);
    let slope_cos = libm::cos(slope_rad);
    -slope_cos * (GRAVITY_MPS2 * sin + speed_mps * yaw_rate_radps * cos)
}
