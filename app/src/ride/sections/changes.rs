//! What can be done to the day's sections, and undone.

use evenkeel_core::align::Moment;
use evenkeel_core::track::{Course, Passage, Section};
use evenkeel_core::{Day, RunSheet};
use leptos::prelude::*;

use crate::store::Store;

/// So many changes can be undone.
const KEPT: usize = 50;
/// Two edges closer than this are one, m.
const SAME_EDGE_M: f64 = 0.05;
/// How closely a cursor is set on something seen, s (common practice: about three frames of a helmet video).
const SEEN_TO_S: f64 = 0.1;

/// The sections as they were before a change.
#[derive(Clone, Debug, PartialEq)]
pub struct SectionChange {
    /// What was done, for the button that undoes it.
    pub what: String,
    sections: Vec<Section>,
    course: Option<Course>,
    passages: Vec<Vec<Passage>>,
}

/// Changes the day's sections; what they were can be had back.
pub fn change(store: Store, what: impl Into<String>, act: impl FnOnce(&mut Day)) {
    let before = store.day.with_untracked(|day| SectionChange {
        what: what.into(),
        sections: day.sections.clone(),
        course: day.course.clone(),
        passages: day.runs.iter().map(|run| run.passages.clone()).collect(),
    });
    store.day.update(act);
    store.section_changes.update(|changes| {
        changes.push(before);
        if changes.len() > KEPT {
            changes.remove(0);
        }
    });
}

/// Takes the last change back.
pub fn undo(store: Store) {
    let Some(before) = store.section_changes.try_update(Vec::pop).flatten() else { return };
    store.day.update(|day| {
        (day.sections, day.course) = (before.sections, before.course);
        for (run, passages) in day.runs.iter_mut().zip(before.passages) {
            run.passages = passages;
        }
    });
}

/// Adds sections, in the order of the track; a name that is taken gets a number. The first sections of a day come
/// with the course they were made on: places found on another course before mean nothing on it.
pub fn add(day: &mut Day, sections: Vec<Section>, new_course: Option<Course>) {
    if let Some(course) = new_course {
        day.course = Some(course);
        day.runs.iter_mut().for_each(|run| run.passages.clear());
    }
    for section in sections {
        let name = free_name(&day.sections, &section.name);
        day.sections.push(Section { name, ..section });
    }
    day.sections.sort_by(|a, b| a.start_m.total_cmp(&b.start_m));
}

/// A name that no section bears yet.
fn free_name(sections: &[Section], name: &str) -> String {
    let taken = |name: &str| sections.iter().any(|section| section.name == name);
    let numbered = (2..).map(|n| format!("{name} ({n})"));
    std::iter::once(name.to_owned()).chain(numbered).find(|name| !taken(name)).unwrap_or_default()
}

/// Gives a section another name.
///
/// # Errors
/// A sentence, if it is empty or taken.
pub fn may_be_called(sections: &[Section], index: usize, name: &str) -> Result<(), String> {
    if name.is_empty() {
        return Err("a section needs a name".to_owned());
    }
    let taken = sections.iter().enumerate().any(|(i, section)| i != index && section.name == name);
    if taken { Err(format!("there is a section called {name} already")) } else { Ok(()) }
}

/// One end of a section.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edge {
    Start,
    End,
}

impl Edge {
    pub fn of(self, section: &Section) -> f64 {
        match self {
            Self::Start => section.start_m,
            Self::End => section.end_m,
        }
    }
}

/// The sections with one edge elsewhere; an edge that neighbours share moves for both.
///
/// # Errors
/// A sentence, if a section would end before it starts.
pub fn with_edge(sections: &[Section], index: usize, edge: Edge, to_m: f64) -> Result<Vec<Section>, String> {
    let Some(from_m) = sections.get(index).map(|section| edge.of(section)) else {
        return Err("that section is gone".to_owned());
    };
    let mut sections = sections.to_vec();
    for section in &mut sections {
        for place_m in [&mut section.start_m, &mut section.end_m] {
            if (*place_m - from_m).abs() < SAME_EDGE_M {
                *place_m = to_m;
            }
        }
    }
    match sections.iter().find(|section| section.end_m <= section.start_m) {
        Some(section) => {
            Err(format!("{} would end before it starts: move its other end first", section.name))
        }
        None => Ok(sections),
    }
}

/// Says that a place of the course is passed at a moment of this run, in place of what was said of it before.
pub fn found_by_hand(run: &mut RunSheet, course_m: f64, time_s: f64) {
    run.passages.retain(|passage| (passage.course_m - course_m).abs() >= SAME_EDGE_M);
    run.passages.push(Passage { course_m, time: Moment { seconds: time_s, resolution_s: SEEN_TO_S } });
    run.passages.sort_by(|a, b| a.course_m.total_cmp(&b.course_m));
}

#[cfg(test)]
mod tests {
    use super::*;

    fn section(name: &str, start_m: f64, end_m: f64) -> Section {
        Section { name: name.to_owned(), start_m, end_m, no_braking: false }
    }

    fn day() -> Day {
        Day {
            sections: vec![section("roots", 0.0, 100.0), section("rocks", 100.0, 250.0)],
            course: Some(Course::from_curvature(&[0.0; 3])),
            runs: vec![RunSheet::default()],
            ..Day::default()
        }
    }

    #[test]
    fn a_second_list_is_added_and_loses_nothing() {
        let mut day = day();
        found_by_hand(&mut day.runs[0], 100.0, 20.0);
        let course = day.course.clone();
        add(&mut day, vec![section("rocks", 40.0, 90.0), section("end", 250.0, 300.0)], None);
        let names: Vec<&str> = day.sections.iter().map(|section| section.name.as_str()).collect();
        assert_eq!(names, ["roots", "rocks (2)", "rocks", "end"]);
        assert_eq!((day.course, day.runs[0].passages.len()), (course, 1));
    }

    #[test]
    fn the_first_sections_bring_their_course() {
        let mut day = day();
        found_by_hand(&mut day.runs[0], 100.0, 20.0);
        day.sections.clear();
        let course = Course::from_curvature(&[0.01; 5]);
        add(&mut day, vec![section("all", 0.0, 2.0)], Some(course.clone()));
        assert_eq!((day.course, day.runs[0].passages.len()), (Some(course), 0));
    }

    #[test]
    fn an_edge_that_two_share_moves_for_both() {
        let sections = with_edge(&day().sections, 1, Edge::Start, 120.0).unwrap();
        assert_eq!((sections[0].end_m, sections[1].start_m), (120.0, 120.0));
        let alone = with_edge(&day().sections, 1, Edge::End, 240.0).unwrap();
        assert_eq!((alone[0].end_m, alone[1].end_m), (100.0, 240.0));
        assert!(
            with_edge(&day().sections, 0, Edge::End, 260.0).unwrap_err().contains("rocks would end before")
        );
        assert!(with_edge(&day().sections, 7, Edge::End, 260.0).is_err());
    }

    #[test]
    fn a_place_is_found_by_hand_once() {
        let mut run = RunSheet::default();
        for (course_m, time_s) in [(250.0, 40.0), (100.0, 20.0), (250.0, 41.0)] {
            found_by_hand(&mut run, course_m, time_s);
        }
        let found: Vec<_> = run.passages.iter().map(|p| (p.course_m, p.time.seconds)).collect();
        assert_eq!(found, [(100.0, 20.0), (250.0, 41.0)]);
    }

    #[test]
    fn names_are_neither_empty_nor_taken() {
        let sections = day().sections;
        assert!(may_be_called(&sections, 0, "roots").is_ok() && may_be_called(&sections, 0, "wall").is_ok());
        assert!(may_be_called(&sections, 0, "rocks").unwrap_err().contains("already"));
        assert!(may_be_called(&sections, 0, "").is_err());
    }
}
