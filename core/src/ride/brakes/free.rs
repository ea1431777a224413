//! Where a brake's lever is free.

use std::ops::Range;

use super::application::{Application, ON_PA};

/// A lever moves the pressure for this long before it counts as on and after it counts as off, s (common
/// practice: seals draw the pads back within some tenths of a second).
const AROUND_S: f64 = 0.3;

/// Where pressure is measured and is not the lever's: by sample, 0.3 s or more from any application.
pub fn lever_free(pressure_pa: &[f32], applications: &[Application], rate_hz: f64) -> Vec<bool> {
    let around = (AROUND_S * rate_hz).round() as usize;
    let mut free: Vec<bool> = pressure_pa.iter().map(|pressure| *pressure < ON_PA).collect();
    for Application { range: Range { start, end }, .. } in applications {
        let (from, to) = (start.saturating_sub(around), (end + around).min(free.len()));
        free[from..to].fill(false);
    }
    free
}

#[cfg(test)]
mod tests {
    use super::super::application::applications;
    use super::*;

    #[test]
    fn the_lever_has_time_to_come_and_go() {
        let mut pressure = vec![0.0_f32; 40];
        pressure[20..25].fill(5e5);
        pressure[2] = f32::NAN;
        let free = lever_free(&pressure, &applications(&pressure, 10.0), 10.0);
        let held: Vec<usize> = (0..40).filter(|&i| !free[i]).collect();
        assert_eq!(held, [2, 17, 18, 19, 20, 21, 22, 23, 24, 25, 26, 27]);
    }
}
