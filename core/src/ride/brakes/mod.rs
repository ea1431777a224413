//! The brakes: applications, drag, residual pressure, overlap and balance.

mod application;
mod drag;
mod free;
mod residual;
mod zero;

use std::ops::Range;

use serde::{Deserialize, Serialize};

pub use application::{Application, ApplicationReadout, OFF_PA, ON_PA, applications};
pub use drag::{DragReadout, usual_peak_pa};
pub use residual::ResidualReadout;
pub use zero::ZeroReadout;

use self::application::{area_pa_s, span};
use self::drag::{drags, light_pa};
use self::free::lever_free;
use super::basis::Basis;
use crate::grouped::grouped;
use crate::measured::{Measured, NotMeasured};
use crate::role::{End, Role};
use crate::signal::Resolution;

/// Both brakes over one section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BrakesReadout {
    /// Front brake.
    pub front: BrakeReadout,
    /// Rear brake.
    pub rear: BrakeReadout,
    /// How long both are on at once, s: normal braking, told for what it is worth.
    pub overlap_s: Measured,
    /// Front area over the sum of both areas, of pressure over time.
    pub balance_front_share: Measured,
    /// Whether the owner says that there is nothing to brake for in this section.
    pub no_braking: bool,
}

grouped! {
    /// One brake over one section.
    ///
    /// An application or a drag is listed in the section in which it begins; sums over time (`area_pa_s`, `on_s`,
    /// `light_s`, `drag_s`, overlap) hold what lies within the section, so that sections add up to the run.
    pub struct BrakeReadout {
        /// How many applications begin here.
        pub applications: Measured<usize>,
        /// Each of them.
        pub application_list: Measured<Vec<ApplicationReadout>>,
        /// Pressure over time while on, Pa s.
        pub area_pa_s: Measured,
        /// How long it is on, s.
        pub on_s: Measured,
        /// How hard the rider usually pulls this brake, in the whole run or day, Pa.
        pub usual_peak_pa: Measured,
        /// How long pressure lies between off and a quarter of the usual peak while the bike rolls, s.
        pub light_s: Measured,
        /// How long it is dragged, s: lightly on for a second or more at a stretch; in a section without braking,
        /// all the time that it is on.
        pub drag_s: Measured,
        /// Each stretch that is dragged.
        pub drag_list: Measured<Vec<DragReadout>>,
    }
    groups {
        /// Pressure with the lever off.
        pub residual: ResidualReadout,
        /// The level with the lever free.
        pub zero: ZeroReadout,
    }
}

/// The brakes of one run, ready to be read section by section.
pub struct Brakes<'a> {
    basis: &'a Basis<'a>,
    ends: [Result<Brake<'a>, NotMeasured>; 2],
    ridden: Vec<bool>,
}

/// One brake of one run.
struct Brake<'a> {
    pressure_pa: &'a [f32],
    applications: &'a [Application],
    usual_peak_pa: Result<f64, NotMeasured>,
    /// Up to where it is lightly on, Pa.
    light_pa: Result<f32, NotMeasured>,
    drags: Result<Vec<Range<usize>>, NotMeasured>,
    lever_free: Vec<bool>,
    /// Where it is free while the bike rolls.
    free_ridden: Vec<bool>,
    resolution: Resolution,
}

impl<'a> Brakes<'a> {
    /// Prepares a run. `usual_peaks_pa`: front and rear, those of the day where it has several runs; the
    /// run's own where there is none.
    pub fn new(basis: &'a Basis<'a>, usual_peaks_pa: [Option<f64>; 2]) -> Self {
        let ridden = ridden(basis);
        let ends =
            [End::Front, End::Rear].map(|end| Brake::new(basis, end, usual_peaks_pa[end as usize], &ridden));
        Self { basis, ends, ridden }
    }

    /// How long one brake is dragged within a range of samples, s.
    pub fn drag_s(&self, end: End, range: &Range<usize>) -> Result<f64, NotMeasured> {
        let brake = self.ends[end as usize].as_ref().map_err(Clone::clone)?;
        let drags = brake.drags.as_ref().map_err(Clone::clone)?;
        Ok(drags.iter().map(|drag| overlap(drag, range).len()).sum::<usize>() as f64 / self.basis.rate_hz())
    }

    /// Reads one stretch.
    pub fn read(&self, range: &Range<usize>, no_braking: bool) -> BrakesReadout {
        let [front, rear] = [End::Front, End::Rear].map(|end| self.end(end, range, no_braking));
        let balance = || {
            let (front, rear) = (front.area_pa_s.get()?, rear.area_pa_s.get()?);
            if front + rear <= 0.0 {
                return Err(NotMeasured::because("no brake is used here"));
            }
            Ok(front / (front + rear))
        };
        let balance_front_share = balance().into();
        BrakesReadout {
            overlap_s: self.overlap_s(range).into(),
            balance_front_share,
            no_braking,
            front,
            rear,
        }
    }

    fn overlap_s(&self, range: &Range<usize>) -> Result<f64, NotMeasured> {
        let [front, rear] = &self.ends;
        let (front, rear) = (front.as_ref().map_err(Clone::clone)?, rear.as_ref().map_err(Clone::clone)?);
        let rear: Vec<_> = rear.on_in(range).collect();
        let both = front.on_in(range).flat_map(|f| rear.iter().map(move |r| overlap(&f, r).len()));
        Ok(both.sum::<usize>() as f64 / self.basis.rate_hz())
    }

    fn end(&self, end: End, range: &Range<usize>, no_braking: bool) -> BrakeReadout {
        match &self.ends[end as usize] {
            Ok(brake) => self.brake(end, brake, range, no_braking),
            Err(reason) => BrakeReadout {
                applications: Measured::not(reason.clone()),
                application_list: Measured::not(reason.clone()),
                area_pa_s: Measured::not(reason.clone()),
                on_s: Measured::not(reason.clone()),
                usual_peak_pa: Measured::not(reason.clone()),
                light_s: Measured::not(reason.clone()),
                drag_s: Measured::not(reason.clone()),
                drag_list: Measured::not(reason.clone()),
                residual: ResidualReadout::not(reason, self.basis.bike.residual_allowance(end)),
                zero: ZeroReadout::not(reason),
            },
        }
    }

    fn brake(&self, end: End, brake: &Brake<'_>, range: &Range<usize>, no_braking: bool) -> BrakeReadout {
        let Self { basis, ridden, .. } = self;
        let rate_hz = basis.rate_hz();
        let list: Vec<_> = brake
            .applications
            .iter()
            .filter(|on| range.contains(&on.range.start))
            .map(|on| ApplicationReadout::of(basis, end, brake.pressure_pa, on))
            .collect();
        let seconds = |samples: usize| samples as f64 / rate_hz;
        let light_s = brake.light_pa.clone().map(|light_pa| {
            let is_light = |&i: &usize| ridden[i] && (OFF_PA..=light_pa).contains(&brake.pressure_pa[i]);
            seconds(range.clone().filter(is_light).count())
        });
        let dragged = if no_braking { Ok(brake.on_while(ridden)) } else { brake.drags.clone() };
        let drag_list = dragged.clone().map(|drags| {
            let here = drags.into_iter().filter(|drag| range.contains(&drag.start));
            here.map(|drag| DragReadout {
                start_s: basis.time_s(drag.start),
                length_s: seconds(drag.len()),
                mean_pa: mean(&brake.pressure_pa[drag]),
            })
            .collect()
        });
        let areas = brake.on_in(range).map(|on| area_pa_s(brake.pressure_pa, on, rate_hz));
        BrakeReadout {
            applications: Measured::value(list.len()),
            application_list: Measured::value(list),
            area_pa_s: Measured::value(areas.fold(0.0, |sum, area| sum + area)),
            on_s: Measured::value(seconds(brake.on_in(range).map(|on| on.len()).sum())),
            usual_peak_pa: brake.usual_peak_pa.clone().into(),
            light_s: light_s.into(),
            drag_s: dragged
                .map(|drags| seconds(drags.iter().map(|drag| overlap(drag, range).len()).sum()))
                .into(),
            drag_list: drag_list.into(),
            residual: ResidualReadout::of(
                basis,
                brake.pressure_pa,
                &brake.free_ridden,
                brake.resolution,
                basis.bike.residual_allowance(end),
                range,
            ),
            zero: ZeroReadout::of(brake.pressure_pa, &brake.lever_free, rate_hz, range),
        }
    }
}

impl<'a> Brake<'a> {
    fn new(
        basis: &'a Basis<'a>,
        end: End,
        usual_of_day_pa: Option<f64>,
        ridden: &[bool],
    ) -> Result<Self, NotMeasured> {
        let rate_hz = basis.rate_hz();
        let pressure_pa = basis.brake_pa(end)?;
        let applications = basis.applications(end)?;
        // A bike held at the gate says nothing about braking.
        let while_ridden = applications
            .iter()
            .filter(|on| ridden[on.range.clone()].contains(&true))
            .map(|on| (span(on, pressure_pa).len() as f64 / rate_hz, f64::from(on.peak_pa)));
        let usual_peak_pa = usual_of_day_pa.map_or_else(|| usual_peak_pa(while_ridden.clone()), Ok);
        let light_pa = usual_peak_pa.clone().and_then(light_pa);
        let drags = match &light_pa {
            Ok(light_pa) => Ok(drags(pressure_pa, applications, ridden, *light_pa, rate_hz)),
            // Not pulled for a tenth of a second is not dragged for a second.
            Err(_) if usual_peak_pa.is_err() => Ok(Vec::new()),
            Err(reason) => Err(reason.clone()),
        };
        let lever_free = lever_free(pressure_pa, applications, rate_hz);
        let free_ridden = lever_free.iter().zip(ridden).map(|(free, ridden)| *free && *ridden).collect();
        let resolution = basis.resolution(Role::Brake(end));
        Ok(Self {
            pressure_pa,
            applications,
            usual_peak_pa,
            light_pa,
            drags,
            lever_free,
            free_ridden,
            resolution,
        })
    }

    /// From on to off of each application, as far as it lies in a section.
    fn on_in(&self, range: &Range<usize>) -> impl Iterator<Item = Range<usize>> {
        self.applications
            .iter()
            .map(|on| overlap(&span(on, self.pressure_pa), range))
            .filter(|on| !on.is_empty())
    }

    /// Where it is on while the bike rolls.
    fn on_while(&self, ridden: &[bool]) -> Vec<Range<usize>> {
        let on = self.applications.iter().map(|on| span(on, self.pressure_pa));
        on.flat_map(|on| {
            let rolls = super::contact::ranges_where(on.len(), 1, |k| ridden[on.start + k]);
            rolls.into_iter().map(move |part| on.start + part.start..on.start + part.end)
        })
        .collect()
    }
}

/// What two ranges share; empty if nothing.
fn overlap(a: &Range<usize>, b: &Range<usize>) -> Range<usize> {
    let start = a.start.max(b.start);
    start..a.end.min(b.end).max(start)
}

fn mean(samples: &[f32]) -> f64 {
    let finite = samples.iter().filter(|v| !v.is_nan());
    finite.clone().map(|v| f64::from(*v)).sum::<f64>() / finite.count().max(1) as f64
}

/// Where the bike rolls; all the time where nothing that is logged could say.
fn ridden(basis: &Basis<'_>) -> Vec<bool> {
    let unknown =
        basis.speed_mps().is_err() && [End::Front, End::Rear].iter().all(|end| basis.travel_m(*end).is_err());
    if unknown { vec![true; basis.len()] } else { basis.rolling.clone() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::{Aligned, Clock, Part};
    use crate::bike::Bike;
    use crate::calibrate::calibrate;
    use crate::channel::Profile;
    use crate::ride::Traces;

    /// A minute at 100 Hz of both brakes alone, and what `read` makes of it.
    fn with_brakes<T>(bar: impl Fn(f64) -> [f64; 2], read: impl FnOnce(&Basis<'_>) -> T) -> T {
        let text = (0..6000).fold("time [s],front brake [bar],rear brake [bar]\n".to_owned(), |text, i| {
            let t = f64::from(i) / 100.0;
            let [front, rear] = bar(t);
            text + &format!("{t:.2},{front:.4},{rear:.4}\n")
        });
        let source = crate::import::read("log.csv", text.as_bytes()).unwrap().parts.remove(0);
        let bike = Bike::default();
        let (channels, _) = calibrate(&source, &Profile::guess(&source), &bike);
        let part = Part { source: &source, channels, clock: Clock::default() };
        let traces = Traces::new(Aligned::new(vec![part]).unwrap());
        let unfit = Default::default();
        read(&Basis::new(&traces, &bike, &unfit, None))
    }

    /// Hard pulls of the front at 10 s and 40 s, one of half a second of the rear at 20 s, and the rear
    /// lightly on from 50 s to 54 s.
    fn pulls(t: f64) -> [f64; 2] {
        let on = |from: f64, to: f64, bar: f64| if (from..to).contains(&t) { bar } else { 0.0 };
        [on(10.0, 12.0, 20.0) + on(40.0, 41.0, 20.0), on(20.0, 20.5, 24.0) + on(50.0, 54.0, 3.0)]
    }

    fn value(measured: &Measured) -> f64 {
        *measured.get().unwrap()
    }

    #[test]
    fn sections_add_up_to_the_run() {
        with_brakes(pulls, |basis| {
            let brakes = Brakes::new(basis, [None; 2]);
            let whole = brakes.read(&(0..6000), false);
            // Both cuts lie within an application.
            let parts = [0..1100, 1100..5200, 5200..6000].map(|range| brakes.read(&range, false));
            for (sum, of) in [
                (value(&whole.front.area_pa_s), (|b| value(&b.front.area_pa_s)) as fn(&BrakesReadout) -> f64),
                (value(&whole.rear.area_pa_s), |b| value(&b.rear.area_pa_s)),
                (value(&whole.front.on_s), |b| value(&b.front.on_s)),
                (value(&whole.rear.drag_s), |b| value(&b.rear.drag_s)),
                (value(&whole.rear.light_s), |b| value(&b.rear.light_s)),
            ] {
                assert!((parts.iter().map(of).sum::<f64>() - sum).abs() < 1e-6 * sum);
            }
            assert_eq!(parts.each_ref().map(|part| *part.front.applications.get().unwrap()), [1, 1, 0]);
            assert_eq!(parts.each_ref().map(|part| part.rear.drag_list.get().unwrap().len()), [0, 1, 0]);
        });
    }

    #[test]
    fn any_application_is_drag_where_there_is_nothing_to_brake_for() {
        with_brakes(pulls, |basis| {
            let brakes = Brakes::new(basis, [None; 2]);
            let drag = |no_braking| brakes.read(&(0..6000), no_braking);
            assert_eq!(drag(false).front.drag_s.get(), Ok(&0.0));
            assert!((value(&drag(false).rear.drag_s) - 4.0).abs() < 1e-9);
            let marked = drag(true);
            assert!((value(&marked.front.drag_s) - 3.0).abs() < 1e-9);
            assert!((value(&marked.rear.drag_s) - 4.5).abs() < 1e-9);
            assert_eq!(marked.rear.drag_list.get().unwrap().len(), 2);
            assert!((marked.rear.drag_list.get().unwrap()[1].mean_pa - 3e5).abs() < 1.0);
            assert!(marked.no_braking);
        });
    }

    #[test]
    fn the_day_s_usual_peak_takes_the_place_of_the_run_s() {
        with_brakes(pulls, |basis| {
            let read = |usual| Brakes::new(basis, [None, usual]).read(&(0..6000), false).rear;
            // Type 7 of 3 and 24 bar: 21.9, a quarter of which lies above 3 bar.
            assert!((value(&read(None).usual_peak_pa) - 21.9e5).abs() < 1.0);
            assert_eq!(value(&read(Some(10e5)).usual_peak_pa), 10e5);
            // A quarter of 10 bar lies below 3 bar.
            assert_eq!(read(Some(10e5)).drag_s.get(), Ok(&0.0));
            assert!(read(Some(3e5)).drag_s.get().unwrap_err().0.contains("3.0 bar"));
        });
    }
}
