//! Where the run in view went, kept after its analysis, so that places and sections are found at once.

use evenkeel_core::align::fit;
use evenkeel_core::track::{Course, Mark, RunTrack, Way, WayPoint, read_splits, sections_from_splits};
use evenkeel_core::{Day, NotMeasured, RunSheet};

use super::protocol::{GivenPlace, PlacedSection, PlacesFound, SectionsRead, TrackAnswer};

/// A drawn way has no more points than this: a few for each pixel of a picture.
const MOST_POINTS: usize = 4000;

/// The way of a run and where the day's sections lie on it; times, metres east and north, and metres along the
/// track go beside it.
pub fn answer(day: &Day, sheet: &RunSheet, way: &Way) -> (TrackAnswer, Vec<Vec<f32>>) {
    let laid = day.course.as_ref().map(|course| way.lay(course, &sheet.passages));
    let course = laid.as_ref().and_then(|laid| laid.as_ref().ok());
    let points = way.points(MOST_POINTS);
    let start_s = points.first().map_or(0.0, |point| point.time_s);
    let along = |run_m: f64| match course {
        Some(run) => run.alignment.course_m(run_m).unwrap_or(f64::NAN),
        None => run_m,
    };
    let buffer =
        |of: &dyn Fn(&WayPoint) -> f64| -> Vec<f32> { points.iter().map(|point| of(point) as f32).collect() };
    let buffers = vec![
        buffer(&|point| point.time_s - start_s),
        buffer(&|point| point.east_north_m[0]),
        buffer(&|point| point.east_north_m[1]),
        buffer(&|point| along(point.distance_m)),
    ];
    let no_course = || NotMeasured::because("the day has sections, but no reference run they were made in");
    let found = laid.as_ref().map_or_else(|| Err(no_course()), |laid| laid.as_ref().map_err(Clone::clone));
    let sections = day.sections.iter().map(|section| PlacedSection {
        section: section.clone(),
        stretch: found.clone().and_then(|run| run.stretch(section)),
    });
    let answer = TrackAnswer {
        source: way.path.as_ref().map(|path| path.source).map_err(Clone::clone),
        length_m: way.distance.as_ref().map(|distance| distance.length_m()).map_err(Clone::clone),
        method: laid
            .as_ref()
            .map(|laid| laid.as_ref().map(|run| run.alignment.method.clone()).map_err(Clone::clone)),
        sections: sections.collect(),
        start_s,
    };
    (answer, buffers)
}

/// The run on the day's course. Where no section was made yet, its own way becomes the course.
fn on_course(day: &Day, sheet: &RunSheet, way: &Way) -> Result<(RunTrack, Option<Course>), NotMeasured> {
    match &day.course {
        Some(course) if !day.sections.is_empty() => Ok((way.lay(course, &sheet.passages)?, None)),
        _ => Ok((way.as_reference()?, Some(way.own_course().clone()))),
    }
}

/// Places of the course.
pub fn places(
    day: &Day,
    sheet: &RunSheet,
    way: &Way,
    given: &[GivenPlace],
) -> Result<PlacesFound, NotMeasured> {
    let (run, new_course) = on_course(day, sheet, way)?;
    let video = fit(&sheet.video.anchors).ok();
    let place_m = |place: &GivenPlace| {
        let mark: Mark = match *place {
            GivenPlace::Mark(mark) => mark,
            GivenPlace::Gate { angles_rad, half_width_m } => way.through_gate(angles_rad, half_width_m)?,
        };
        run.place_m(mark, video.as_ref())
    };
    let places_m = given.iter().map(place_m).collect::<Result<_, _>>()?;
    Ok(PlacesFound { places_m, new_course })
}

/// The sections of a split list, or what is wrong with it.
pub fn read_sections(
    day: &Day,
    sheet: &RunSheet,
    way: &Way,
    file: &str,
    text: &str,
) -> Result<SectionsRead, String> {
    let splits = read_splits(file, text).map_err(|error| error.to_string())?;
    let (run, new_course) = on_course(day, sheet, way).map_err(|reason| reason.0)?;
    let sections = sections_from_splits(&splits, &run).map_err(|reason| format!("{file}: {}", reason.0))?;
    Ok(SectionsRead { sections, new_course })
}
