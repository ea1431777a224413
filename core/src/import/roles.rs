//! Roles and units guessed from headers, in several languages' habits. A guess is always shown and
//! may be corrected; where the words leave a doubt there is none, for a wrong role is worse.

use super::Layout;
use super::vocabulary::Said;
use super::vocabulary::Word::*;
use crate::role::{Axis, End, Place, Role};
use crate::unit::{Quantity, Unit};

impl Said {
    /// The end it names; a fork is in front. `None` for neither or both.
    fn end(&self) -> Option<End> {
        match (self.any(&[Front, Fork]), self.says(Rear)) {
            (true, false) => Some(End::Front),
            (false, true) => Some(End::Rear),
            _ => None,
        }
    }

    fn axis(&self) -> Option<Axis> {
        let moved = self.any(&[Accel, Gyro, Magnet]);
        let named = [
            self.says(X) || moved && self.says(Longitude),
            self.says(Y) || moved && self.says(Latitude),
            self.says(Z),
        ];
        match named {
            [true, false, false] => Some(Axis::X),
            [false, true, false] => Some(Axis::Y),
            [false, false, true] => Some(Axis::Z),
            _ => None,
        }
    }

    /// Where an inertial sensor sits: the frame unless said otherwise; `None` where "front" might be
    /// the axle as well as the bar.
    fn place(&self) -> Option<Place> {
        let axle = self.any(&[Axle, Wheel, Fork]);
        match (self.says(Bar), axle, self.end()) {
            (true, false, end) if end != Some(End::Rear) => Some(Place::Bar),
            (false, true, Some(End::Front)) => Some(Place::FrontAxle),
            (false, true, Some(End::Rear)) => Some(Place::RearAxle),
            (false, false, None) if !self.any(&[Front, Rear]) => Some(Place::Frame),
            _ => None,
        }
    }

    /// The role, given the quantity of the unit where one is named.
    fn role(&self, unit: Option<Unit>) -> Option<Role> {
        let quantity = unit.map(Unit::quantity).filter(|&quantity| quantity != Quantity::Other);
        let is = |wanted| quantity == Some(wanted);
        if self.says(Other) {
            return None;
        }
        if self.says(Temperature) {
            return Some(Role::Temperature);
        }
        if let Some(role) = self.axis().and_then(|axis| self.inertial(axis, quantity)) {
            return Some(role);
        }
        if self.any(&[Accel, Gyro, Magnet, AccelOrGyro]) {
            return None;
        }
        match (self.says(Latitude), self.says(Longitude)) {
            (true, false) => return Some(Role::Latitude),
            (false, true) => return Some(Role::Longitude),
            _ => {}
        }
        let moves = self.any(&[Speed, Turning]) || is(Quantity::Speed) || is(Quantity::AngularRate);
        let sprung =
            self.any(&[Travel, Fork, Shock, Stroke, Axle]) || unit == Some(Unit::MillimetrePerSecond);
        let presses = self.any(&[Brake, Pressure]) || is(Quantity::Pressure);
        let end = self.end();
        if moves {
            // The speed of a suspension is worked out from its travel, not read from a file.
            return match end {
                _ if sprung || presses => None,
                Some(end) => Some(Role::WheelSpeed(end)),
                None if self.any(&[Front, Rear, Wheel, Turning, Z, X, Y]) || is(Quantity::AngularRate) => {
                    None
                }
                None => Some(Role::GroundSpeed),
            };
        }
        if presses {
            return if sprung || self.says(Wheel) { None } else { end.map(Role::Brake) };
        }
        if self.says(Pulses) || (self.says(Wheel) && is(Quantity::Count)) {
            return if sprung { None } else { end.map(Role::WheelPulses) };
        }
        if self.says(Shock) && !self.any(&[Front, Fork]) {
            return Some(Role::ShockStroke);
        }
        let springs = self.any(&[Travel, Fork, Stroke, Shock]) || is(Quantity::Length);
        if let Some(end) = end.filter(|_| springs) {
            return Some(Role::Travel(end));
        }
        if self.any(&[Front, Rear, Travel, Fork, Shock]) {
            return None;
        }
        if self.says(Height) {
            return Some(Role::Height);
        }
        let course = self.says(Course) || self.says(Stroke) && (is(Quantity::Angle) || self.says(Gps));
        course.then_some(Role::Course)
    }

    fn inertial(&self, axis: Axis, quantity: Option<Quantity>) -> Option<Role> {
        let place = self.place()?;
        let kind = match (self.says(Accel), self.says(Gyro), self.says(Magnet)) {
            (true, false, false) => Quantity::Acceleration,
            (false, true, false) => Quantity::AngularRate,
            (false, false, true) => Quantity::MagneticField,
            _ => quantity?,
        };
        let on_axle = matches!(place, Place::FrontAxle | Place::RearAxle);
        match kind {
            Quantity::Acceleration => Some(Role::Accel(place, axis)),
            Quantity::AngularRate if !on_axle => Some(Role::Gyro(place, axis)),
            Quantity::MagneticField if !on_axle => Some(Role::Magnet(place, axis)),
            _ => None,
        }
    }
}

/// The quantity that a header without its unit speaks of, if its role is plain.
pub(super) fn quantity(name: &str) -> Option<Quantity> {
    Said::new(name).role(None).map(Role::quantity)
}

/// Role and unit of one column by its header (without unit) and unit text.
///
/// [`Role::Unused`] where the words are unknown or leave a doubt (a brake without its end, a unit
/// that does not fit). A unit that is not named is [`Unit::Raw`], except where only one is usual:
/// degrees for positions and course, m for height, degrees Celsius, counts for pulses.
/// "rpm" in a header is a unit.
pub fn guess_role(header: &str, unit_text: &str) -> (Role, Unit) {
    let said = Said::new(header);
    let named = Unit::parse(unit_text);
    let unused = (Role::Unused, named.unwrap_or(Unit::Raw));
    let Some(role) = said.role(named) else { return unused };
    let wanted = role.quantity();
    match Unit::parse_as(unit_text, wanted) {
        None => (role, usual_unit(role, &said)),
        Some(unit) => {
            let turning = wanted == Quantity::Speed && unit == Unit::TurnPerMinute;
            let fits = [wanted, Quantity::Other].contains(&unit.quantity())
                || matches!(role, Role::WheelSpeed(_))
                    && (turning || unit.quantity() == Quantity::AngularRate);
            if fits { (role, unit) } else { unused }
        }
    }
}

fn usual_unit(role: Role, said: &Said) -> Unit {
    match role {
        Role::Latitude | Role::Longitude | Role::Course => Unit::Degree,
        Role::Height => Unit::Metre,
        Role::Temperature => Unit::Celsius,
        Role::WheelPulses(_) => Unit::Count,
        Role::WheelSpeed(_) if said.says(Turning) => Unit::TurnPerMinute,
        _ => Unit::Raw,
    }
}

/// Roles and units of all columns, one for each of [`Layout::headers`] (the time column, which is
/// [`Role::Unused`], included). No role comes twice: of two columns that could have it, the first
/// with a real unit gets it. A speed without further words is that over ground only beside a GPS
/// position.
pub fn guess_channels(layout: &Layout) -> Vec<(Role, Unit)> {
    let unit_of = |column: usize| layout.units.get(column).map_or("", String::as_str);
    let said: Vec<Said> = layout.headers.iter().map(|header| Said::new(header)).collect();
    let mut guesses: Vec<(Role, Unit)> = layout
        .headers
        .iter()
        .enumerate()
        .map(|(column, header)| guess_role(header, unit_of(column)))
        .collect();
    if let Some(column) = layout.time.column()
        && let Some(guess) = guesses.get_mut(column)
    {
        guess.0 = Role::Unused;
    }

    // `gx` without a unit is a turn rate where `ax` stands beside it.
    let accelerates = guesses.iter().any(|(role, _)| matches!(role, Role::Accel(Place::Frame, _)));
    for (guess, said) in guesses.iter_mut().zip(&said) {
        if accelerates
            && guess.0 == Role::Unused
            && said.says(AccelOrGyro)
            && guess.1 == Unit::Raw
            && let (Some(axis), Some(Place::Frame)) = (said.axis(), said.place())
        {
            guess.0 = Role::Gyro(Place::Frame, axis);
        }
    }

    let positioned =
        [Role::Latitude, Role::Longitude].iter().all(|role| guesses.iter().any(|(r, _)| r == role));
    for (guess, said) in guesses.iter_mut().zip(&said) {
        if guess.0 == Role::GroundSpeed && !positioned && !said.says(Gps) {
            guess.0 = Role::Unused;
        }
    }

    for column in 0..guesses.len() {
        let (role, unit) = guesses[column];
        if role == Role::Unused {
            continue;
        }
        let real = |unit: Unit| unit.quantity() != Quantity::Other;
        let taken = guesses.iter().enumerate().any(|(other, &(other_role, other_unit))| {
            let better = match (real(other_unit), real(unit)) {
                (true, false) => true,
                (false, true) => false,
                _ => other < column,
            };
            other != column && other_role == role && better
        });
        if taken {
            guesses[column].0 = Role::Unused;
        }
    }
    guesses
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::import::header;

    fn guess(header: &str) -> String {
        let (name, unit) = header::split(header);
        let (role, unit) = guess_role(&name, &unit);
        format!("{role} {unit}")
    }

    #[test]
    fn headers_in_several_languages() {
        for (header, expected) in [
            ("front_travel_mm", "front_travel mm"),
            ("FORK", "front_travel raw"),
            ("Gabel", "front_travel raw"),
            ("Federweg hinten [mm]", "rear_travel mm"),
            ("Débattement arrière (mm)", "rear_travel mm"),
            ("course fourche [mm]", "front_travel mm"),
            ("Recorrido horquilla mm", "front_travel mm"),
            ("Corsa forcella [mm]", "front_travel mm"),
            ("rear_mm", "rear_travel mm"),
            ("Shock [mm]", "shock_stroke mm"),
            ("Dämpfer mm", "shock_stroke mm"),
            ("Amortisseur (mm)", "shock_stroke mm"),
            ("Acc X [g]", "frame_accel_x g"),
            ("ACC_Z [G]", "frame_accel_z g"),
            ("accY", "frame_accel_y raw"),
            ("Beschleunigung Z [m/s²]", "frame_accel_z m/s^2"),
            ("Aceleración lateral (g)", "frame_accel_y g"),
            ("bar_acc_z_g", "bar_accel_z g"),
            ("Lenker Acc X (g)", "bar_accel_x g"),
            ("front axle acc z [g]", "front_axle_accel_z g"),
            ("Gyro Z (deg/s)", "frame_gyro_z deg/s"),
            ("gx [°/s]", "frame_gyro_x deg/s"),
            ("gx [g]", "frame_accel_x g"),
            ("Yaw rate [deg/s]", "frame_gyro_z deg/s"),
            ("Giroscopio Y [rad/s]", "frame_gyro_y rad/s"),
            ("Mag X (uT)", "frame_magnet_x uT"),
            ("P_front_bar", "front_brake bar"),
            ("Druck vorne", "front_brake raw"),
            ("Bremsdruck hinten [bar]", "rear_brake bar"),
            ("freno anteriore [bar]", "front_brake bar"),
            ("freno trasero (psi)", "rear_brake psi"),
            ("Frein avant (bar)", "front_brake bar"),
            ("wheel rpm rear", "rear_wheel_speed rpm"),
            ("Hinterrad Drehzahl [U/min]", "rear_wheel_speed rpm"),
            ("vitesse roue avant [km/h]", "front_wheel_speed km/h"),
            ("rear wheel pulses", "rear_wheel_pulses 1"),
            ("Front wheel [pulses]", "front_wheel_pulses 1"),
            ("lat", "latitude deg"),
            ("lng", "longitude deg"),
            ("Breitengrad", "latitude deg"),
            ("alt", "height m"),
            ("Höhe [m]", "height m"),
            ("gps_speed_kmh", "ground_speed km/h"),
            ("Heading (deg)", "course deg"),
            ("Brake temp [°C]", "temperature degC"),
            ("front travel [V]", "front_travel V"),
        ] {
            assert_eq!(guess(header), expected, "{header}");
        }
    }

    #[test]
    fn a_doubt_is_left_open() {
        for header in [
            "freno",
            "brake_1",
            "travel",
            "pressure [bar]",
            "fork pressure [bar]",
            "tyre pressure front [bar]",
            "rear travel speed [mm/s]",
            "front axle speed m/s",
            "front acc z [g]",
            "linear acc x [m/s²]",
            "gps accuracy [m]",
            "ride height [mm]",
            "pitch [deg]",
            "wheel",
            "xyzzy",
            "gx",
            "front travel [bar]",
            "Reifendruck vorn [bar]",
            "front rear travel",
            "vertical speed [m/s]",
            "hAcc [m]",
            "battery [V]",
        ] {
            assert!(guess(header).starts_with("unused"), "{header}: {}", guess(header));
        }
        assert_eq!(guess_role("pitch", "deg"), (Role::Unused, Unit::Degree));
    }
}
