//! Harrowdean Bank: sections, corners, slope, and what lies on the ground.

/// ISO 8608 class of a stretch of ground; its geometric mean `G_d(n0)` at `n0` = 0.1 cycle/m.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RoughnessClass {
    /// 256e-6 m^3.
    C,
    /// 1024e-6 m^3.
    D,
    /// 4096e-6 m^3.
    E,
    /// 16384e-6 m^3.
    F,
}

impl RoughnessClass {
    /// `G_d(n0)` (ISO 8608:2016, Table A.1; from memory).
    pub fn displacement_psd_m3(self) -> f64 {
        match self {
            Self::C => 256e-6,
            Self::D => 1024e-6,
            Self::E => 4096e-6,
            Self::F => 16384e-6,
        }
    }
}

/// A named part of the track.
#[derive(Clone, Copy, Debug)]
pub struct Section {
    /// Name.
    pub name: &'static str,
    /// Distance at which it begins.
    pub start_m: f64,
    /// Distance at which it ends.
    pub end_m: f64,
    /// Fall per horizontal metre.
    pub grade: f64,
    /// Roughness.
    pub class: RoughnessClass,
    /// Speed that the ground allows.
    pub speed_mps: f64,
}

/// A corner of constant radius with eased ends.
#[derive(Clone, Copy, Debug)]
pub struct Corner {
    /// Where it begins.
    pub start_m: f64,
    /// Radius.
    pub radius_m: f64,
    /// Change of heading, + to the left.
    pub angle_deg: f64,
}

impl Corner {
    /// Length along the track.
    pub fn length_m(&self) -> f64 {
        self.angle_deg.abs().to_radians() * self.radius_m
    }
}

/// A single thing on the ground. Heights and lengths in metres, along the slope.
#[derive(Clone, Copy, Debug)]
pub enum Feature {
    /// A rock or root: a half sine.
    Bump {
        /// Middle.
        at_m: f64,
        /// Height.
        height_m: f64,
        /// Whole length.
        length_m: f64,
    },
    /// A step down that the slope takes back over a stretch.
    Drop {
        /// Edge.
        at_m: f64,
        /// Height.
        height_m: f64,
    },
    /// A smooth wave of the ground.
    Roller {
        /// Crest.
        at_m: f64,
        /// Height.
        height_m: f64,
        /// Whole length.
        length_m: f64,
    },
    /// A take-off, a flat top and a landing.
    Jump {
        /// Lip of the take-off.
        lip_m: f64,
        /// Height of the lip.
        height_m: f64,
        /// Length of the take-off.
        ramp_m: f64,
        /// Distance from the lip to the landing's upper edge.
        gap_m: f64,
        /// Length of the landing.
        landing_m: f64,
    },
}

impl Feature {
    /// The same thing elsewhere on the track.
    #[must_use]
    pub fn moved(self, by_m: f64) -> Self {
        match self {
            Self::Bump { at_m, height_m, length_m } => Self::Bump { at_m: at_m + by_m, height_m, length_m },
            Self::Roller { at_m, height_m, length_m } => {
                Self::Roller { at_m: at_m + by_m, height_m, length_m }
            }
            Self::Drop { at_m, height_m } => Self::Drop { at_m: at_m + by_m, height_m },
            Self::Jump { lip_m, height_m, ramp_m, gap_m, landing_m } => {
                Self::Jump { lip_m: lip_m + by_m, height_m, ramp_m, gap_m, landing_m }
            }
        }
    }
}

/// A track.
#[derive(Clone, Debug)]
pub struct Track {
    /// Sections in order.
    pub sections: Vec<Section>,
    /// Corners in order.
    pub corners: Vec<Corner>,
    /// Jumps, apart because nobody brakes there.
    pub jumps: Vec<Feature>,
    /// Drops.
    pub drops: Vec<Feature>,
    /// Rollers.
    pub rollers: Vec<Feature>,
    /// Where the clock stops.
    pub finish_m: f64,
    /// Where the bike must stand.
    pub stop_m: f64,
    slope: Vec<SlopePoint>,
}

/// The smooth base of the track at one place.
#[derive(Clone, Copy, Debug, Default)]
pub struct SlopePoint {
    /// Angle below the horizontal.
    pub slope_rad: f64,
    /// Its change per metre.
    pub slope_rate_rad_per_m: f64,
    /// Change of that per metre.
    pub slope_bend_rad_per_m2: f64,
    /// Curvature in plan, + to the left.
    pub curvature_per_m: f64,
}

const GRID_M: f64 = 0.25;
const BEFORE_M: f64 = 20.0;
const AFTER_M: f64 = 80.0;

impl Track {
    /// The demo track.
    pub fn harrowdean_bank() -> Self {
        use RoughnessClass::{C, D, E};
        let section = |name, start_m, end_m, grade, class, speed_mps| Section {
            name,
            start_m,
            end_m,
            grade,
            class,
            speed_mps,
        };
        let sections = vec![
            section("Start straight", 0.0, 180.0, 0.12, C, 13.0),
            section("Rooty traverse", 180.0, 480.0, 0.13, D, 11.2),
            section("Rock garden", 480.0, 760.0, 0.19, E, 9.1),
            section("Three berms", 760.0, 1080.0, 0.13, D, 11.5),
            section("Two jumps", 1080.0, 1330.0, 0.11, C, 11.6),
            section("Braking-bump chute", 1330.0, 1580.0, 0.21, D, 12.8),
            section("Tight left", 1580.0, 1640.0, 0.10, D, 9.5),
            section("Finish straight", 1640.0, 1900.0, 0.12, D, 13.5),
        ];
        let corner = |start_m, radius_m, angle_deg| Corner { start_m, radius_m, angle_deg };
        let corners = vec![
            corner(110.0, 70.0, 20.0),
            corner(210.0, 38.0, -42.0),
            corner(280.0, 30.0, 55.0),
            corner(360.0, 34.0, -45.0),
            corner(430.0, 26.0, 38.0),
            corner(540.0, 24.0, -40.0),
            corner(650.0, 22.0, 45.0),
            corner(800.0, 10.5, 115.0),
            corner(890.0, 10.0, -130.0),
            corner(985.0, 10.5, 105.0),
            corner(1350.0, 50.0, -35.0),
            corner(1450.0, 60.0, 22.0),
            corner(1597.0, 7.5, 130.0),
            corner(1700.0, 45.0, -40.0),
        ];
        let jumps = vec![
            Feature::Jump { lip_m: 1155.0, height_m: 0.85, ramp_m: 5.0, gap_m: 7.0, landing_m: 6.0 },
            Feature::Jump { lip_m: 1255.0, height_m: 1.25, ramp_m: 5.8, gap_m: 8.5, landing_m: 6.5 },
        ];
        let drops = vec![
            Feature::Drop { at_m: 332.0, height_m: 0.30 },
            Feature::Drop { at_m: 588.0, height_m: 0.45 },
            Feature::Drop { at_m: 702.0, height_m: 0.35 },
            Feature::Drop { at_m: 1780.0, height_m: 0.40 },
        ];
        let roller = |at_m, height_m, length_m| Feature::Roller { at_m, height_m, length_m };
        let rollers = vec![
            roller(58.0, 0.24, 9.0),
            roller(67.5, 0.24, 9.0),
            roller(77.0, 0.24, 9.0),
            roller(1830.0, 0.26, 11.0),
            roller(1841.5, 0.26, 11.0),
        ];
        Self::new(sections, corners, jumps, drops).with_rollers(rollers)
    }

    /// A track of sections that follow each other from 0 on, with what lies in them; it ends where the last one does.
    pub fn new(
        sections: Vec<Section>,
        corners: Vec<Corner>,
        jumps: Vec<Feature>,
        drops: Vec<Feature>,
    ) -> Self {
        let finish_m = sections.last().map_or(0.0, |section| section.end_m);
        let slope = base(&sections, &corners, finish_m);
        Self {
            sections,
            corners,
            jumps,
            drops,
            rollers: Vec::new(),
            finish_m,
            stop_m: finish_m + 38.0,
            slope,
        }
    }

    /// The same track with rollers on it.
    #[must_use]
    pub fn with_rollers(self, rollers: Vec<Feature>) -> Self {
        Self { rollers, ..self }
    }

    /// The smooth base at a distance; beyond either end it goes on as it was.
    pub fn base_at(&self, distance_m: f64) -> SlopePoint {
        let place = ((distance_m + BEFORE_M) / GRID_M).clamp(0.0, (self.slope.len() - 2) as f64);
        let index = place as usize;
        let share = place - index as f64;
        let (a, b) = (&self.slope[index], &self.slope[index + 1]);
        let between = |a: f64, b: f64| a + (b - a) * share;
        SlopePoint {
            slope_rad: between(a.slope_rad, b.slope_rad),
            slope_rate_rad_per_m: between(a.slope_rate_rad_per_m, b.slope_rate_rad_per_m),
            slope_bend_rad_per_m2: between(a.slope_bend_rad_per_m2, b.slope_bend_rad_per_m2),
            curvature_per_m: between(a.curvature_per_m, b.curvature_per_m),
        }
    }

    /// The section at a distance; the nearest one beyond either end.
    pub fn section_at(&self, distance_m: f64) -> &Section {
        let found = self.sections.partition_point(|section| section.end_m <= distance_m);
        &self.sections[found.min(self.sections.len() - 1)]
    }

    /// True where a rider keeps off the brakes: run-up, flight and landing of a jump.
    pub fn is_jump(&self, distance_m: f64) -> bool {
        self.jumps.iter().any(|jump| match *jump {
            Feature::Jump { lip_m, ramp_m, gap_m, landing_m, .. } => {
                (lip_m - ramp_m - 10.0..lip_m + gap_m + landing_m + 4.0).contains(&distance_m)
            }
            _ => false,
        })
    }
}

fn base(sections: &[Section], corners: &[Corner], finish_m: f64) -> Vec<SlopePoint> {
    // A rider's start platform and run-out are nearly level.
    const PLATFORM_GRADE: f64 = 0.005;
    const PLATFORM_END_M: f64 = 6.0;
    let count = ((finish_m + BEFORE_M + AFTER_M) / GRID_M) as usize;
    let place = |index: usize| index as f64 * GRID_M - BEFORE_M;
    let grade_at = |distance_m: f64| {
        if !(PLATFORM_END_M..finish_m).contains(&distance_m) {
            return PLATFORM_GRADE;
        }
        let section = sections.iter().find(|section| distance_m < section.end_m);
        section.map_or(PLATFORM_GRADE, |section| section.grade)
    };
    let curvature_at = |distance_m: f64| {
        corners
            .iter()
            .filter(|corner| (corner.start_m..corner.start_m + corner.length_m()).contains(&distance_m))
            .map(|corner| corner.angle_deg.signum() / corner.radius_m)
            .sum::<f64>()
    };
    let mut slope: Vec<f64> = (0..count).map(|index| libm::atan(grade_at(place(index)))).collect();
    let mut curvature: Vec<f64> = (0..count).map(|index| curvature_at(place(index))).collect();
    for _ in 0..3 {
        slope = box_average(&slope, (4.0 / GRID_M) as usize);
        curvature = box_average(&curvature, (2.5 / GRID_M) as usize);
    }
    let derivative = |values: &[f64]| -> Vec<f64> {
        let last = values.len() - 1;
        (0..values.len())
            .map(|index| (values[(index + 1).min(last)] - values[index.saturating_sub(1)]) / (2.0 * GRID_M))
            .collect()
    };
    let rate = derivative(&slope);
    let bend = derivative(&rate);
    (0..count)
        .map(|index| SlopePoint {
            slope_rad: slope[index],
            slope_rate_rad_per_m: rate[index],
            slope_bend_rad_per_m2: bend[index],
            curvature_per_m: curvature[index],
        })
        .collect()
}

/// Centred moving average over `2 * reach + 1` samples, shorter at the ends.
pub(crate) fn box_average(values: &[f64], reach: usize) -> Vec<f64> {
    let mut sums = Vec::with_capacity(values.len() + 1);
    let mut sum = 0.0;
    sums.push(sum);
    for value in values {
        sum += value;
        sums.push(sum);
    }
    (0..values.len())
        .map(|index| {
            let low = index.saturating_sub(reach);
            let high = (index + reach + 1).min(values.len());
            (sums[high] - sums[low]) / (high - low) as f64
        })
        .collect()
}
