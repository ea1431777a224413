//! The track as lines in the picture: coloured pieces, sections, start and finish.

use std::fmt::Write;

use evenkeel_core::track::{PathSource, Stretch};

use super::colours::{COLOURS, index};
use super::frame::{Frame, WIDTH};
use super::names::{Area, Name, contains, place};
use crate::track_view::TrackView;

/// Points nearer than this to the last drawn one say nothing new, px.
const NEXT_PX: f64 = 0.7;
/// A bar across the track at each edge of a section, half its length, px.
const EDGE_PX: f64 = 7.0;

/// The value of each piece between neighbouring points, in the unit shown; none where it is missing.
pub struct Values {
    pub pieces: Vec<Option<f64>>,
    /// What the first and the last colour stand for; beyond lies one value in fifty at each end.
    pub range: [f64; 2],
    /// Lowest and highest.
    pub extremes: [f64; 2],
}

/// A track drawn once; the cursor moves over it.
#[derive(Clone, Debug, PartialEq)]
pub struct Ground {
    pub frame: Frame,
    pub north_up: bool,
    /// The whole way.
    pub way: String,
    /// What has each colour.
    pub coloured: Vec<(usize, String)>,
    /// What has no value.
    pub missing: String,
    /// Bars at the edges of sections.
    pub edges: String,
    pub names: Vec<Name>,
    /// Start and finish.
    pub ends: [[f64; 2]; 2],
    /// Where their names stand, in the middle of the base line.
    pub end_names: [[f64; 2]; 2],
    /// Where the scale bar stands.
    pub bar: Area,
}

impl Ground {
    /// `None` where no place is known.
    pub fn of(track: &TrackView, values: Option<&Values>) -> Option<Self> {
        let north_up = *track.source.as_ref().ok()? == PathSource::Gps;
        let frame = Frame::fit(track.points().map(|(_, place)| place), north_up)?;
        let places: Vec<[f64; 2]> = track.points().map(|(_, place)| frame.px(place)).collect();
        let known: Vec<[f64; 2]> = places.iter().copied().filter(is_known).collect();
        let ends = [*known.first()?, *known.last()?];
        let mut coloured: Vec<String> = vec![String::new(); COLOURS];
        let mut missing = String::new();
        let share =
            |value: f64, [low, high]: [f64; 2]| if high > low { (value - low) / (high - low) } else { 0.5 };
        for (colour, piece) in pieces(&places, |piece| {
            values.and_then(|values| Some(index(share((*values.pieces.get(piece)?)?, values.range))))
        }) {
            match colour {
                Some(colour) => line(&mut coloured[colour], &piece),
                None => line(&mut missing, &piece),
            }
        }
        let mut edges = String::new();
        let stretches = track.sections.iter().filter_map(|placed| {
            let stretch = placed.stretch.as_ref().ok()?;
            Some((placed.section.name.clone(), stretch))
        });
        let mut wanted = Vec::new();
        for (name, Stretch { start_s, end_s, .. }) in stretches {
            for edge_s in [*start_s, *end_s] {
                if let Some(bar) = across(track, &frame, edge_s) {
                    line(&mut edges, &bar);
                }
            }
            let middle_m =
                track.distance_at(*start_s).zip(track.distance_at(*end_s)).map(|(a, b)| (a + b) / 2.0);
            let middle_s = middle_m.and_then(|m| track.time_at(m)).unwrap_or((start_s + end_s) / 2.0);
            if let Some(middle) = track.east_north_at(middle_s) {
                wanted.push((name, frame.px(middle)));
            }
        }
        let end_names =
            [[ends[0], ends[1]], [ends[1], ends[0]]].map(|[end, other]| end_name(end, other, frame.height));
        let words = |[x, y]: [f64; 2]| [x - 20.0, y - 11.0, x + 20.0, y + 3.0];
        let bar = bar_corner(&frame, &known);
        let taken = [bar, [WIDTH - 34.0, 0.0, WIDTH, 48.0], words(end_names[0]), words(end_names[1])];
        Some(Self {
            frame,
            north_up,
            way: stretch_of(&places),
            coloured: coloured.into_iter().enumerate().filter(|(_, lines)| !lines.is_empty()).collect(),
            missing,
            edges,
            names: place(&wanted, &known, &taken, frame.height),
            ends,
            end_names,
            bar,
        })
    }

    /// The way between two times.
    pub fn part(&self, track: &TrackView, [start_s, end_s]: [f64; 2]) -> String {
        let at = |t_s: f64| track.east_north_at(t_s).map(|place| self.frame.px(place));
        let inside = track
            .points()
            .filter(|(t, _)| (start_s..=end_s).contains(t))
            .map(|(_, place)| self.frame.px(place));
        let places: Vec<[f64; 2]> = at(start_s).into_iter().chain(inside).chain(at(end_s)).collect();
        stretch_of(&places)
    }
}

/// The name of one end stands on the side that faces away from the other.
fn end_name([x, y]: [f64; 2], other: [f64; 2], height: f64) -> [f64; 2] {
    let y = if y > other[1] { y + 17.0 } else { y - 9.0 };
    [x.clamp(20.0, WIDTH - 20.0), y.clamp(11.0, height - 3.0)]
}

/// The lower corner that covers less of the track, for the scale bar with its length.
fn bar_corner(frame: &Frame, track: &[[f64; 2]]) -> Area {
    let width = frame.bar_m() * frame.px_per_m + 60.0;
    let corner = |left: f64| [left, frame.height - 22.0, left + width, frame.height];
    let [left, right] = [corner(0.0), corner(WIDTH - width)];
    // The words of start and finish lie about them.
    let covered = |[x0, y0, x1, y1]: Area| {
        let area = [x0 - 20.0, y0 - 18.0, x1 + 20.0, y1];
        track.iter().filter(|place| contains(area, **place)).count()
    };
    if covered(right) < covered(left) { right } else { left }
}

fn is_known(place: &[f64; 2]) -> bool {
    place.iter().all(|px| px.is_finite())
}

fn stretch_of(places: &[[f64; 2]]) -> String {
    let mut text = String::new();
    for (_, piece) in pieces(places, |_| None) {
        line(&mut text, &piece);
    }
    text
}

/// Joined points of one colour each, without those that no one could tell apart.
fn pieces(
    places: &[[f64; 2]],
    colour: impl Fn(usize) -> Option<usize>,
) -> Vec<(Option<usize>, Vec<[f64; 2]>)> {
    let mut found: Vec<(Option<usize>, Vec<[f64; 2]>)> = Vec::new();
    let mut open = false;
    for (k, pair) in places.windows(2).enumerate() {
        let [from, to] = [pair[0], pair[1]];
        if !is_known(&from) || !is_known(&to) {
            open = false;
            continue;
        }
        let colour = colour(k);
        match found.last_mut().filter(|(last, _)| open && *last == colour) {
            Some((_, points)) => {
                // The end moves on until it is far enough to be a point of its own.
                let before = points.len().checked_sub(2).and_then(|before| points.get(before));
                let near = before.is_some_and(|b| {
                    points.last().is_some_and(|e| (e[0] - b[0]).hypot(e[1] - b[1]) < NEXT_PX)
                });
                match points.last_mut().filter(|_| near) {
                    Some(end) => *end = to,
                    None => points.push(to),
                }
            }
            None => found.push((colour, vec![from, to])),
        }
        open = true;
    }
    found
}

fn line(text: &mut String, points: &[[f64; 2]]) {
    for (k, [x, y]) in points.iter().enumerate() {
        // Writing to a string cannot fail.
        let _ = write!(text, "{}{x:.1} {y:.1}", if k == 0 { 'M' } else { 'L' });
    }
}

/// A bar across the way at a time.
fn across(track: &TrackView, frame: &Frame, t_s: f64) -> Option<[[f64; 2]; 2]> {
    /// The way's direction is that over so much time, s.
    const AROUND_S: f64 = 0.5;
    let at = |t_s: f64| track.east_north_at(t_s).map(|place| frame.px(place));
    let (here, before, after) = (at(t_s)?, at(t_s - AROUND_S)?, at(t_s + AROUND_S)?);
    let (dx, dy) = (after[0] - before[0], after[1] - before[1]);
    let length = dx.hypot(dy);
    let (dx, dy) = if length > 0.0 { (dx / length * EDGE_PX, dy / length * EDGE_PX) } else { (EDGE_PX, 0.0) };
    Some([[here[0] - dy, here[1] + dx], [here[0] + dy, here[1] - dx]])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pieces_join_by_colour_and_break_where_the_way_is_missing() {
        let nan = [f64::NAN; 2];
        let x = |x: f64| [x, 0.0];
        let places = [x(0.0), x(0.5), x(1.0), x(2.0), nan, x(4.0), x(5.0), x(6.0)];
        let found = pieces(&places, |k| Some(usize::from(k >= 6)));
        let expected = [
            // What is nearer than a pixel is passed over, but not the end.
            (Some(0), vec![x(0.0), x(1.0), x(2.0)]),
            (Some(0), vec![x(4.0), x(5.0)]),
            (Some(1), vec![x(5.0), x(6.0)]),
        ];
        assert_eq!(found, expected);
        let mut text = String::new();
        line(&mut text, &found[0].1);
        assert_eq!(text, "M0.0 0.0L1.0 0.0L2.0 0.0");
    }
}
