//! One edge of a new section, given in any of the ways in which people know a place.

use evenkeel_core::align::moment;
use evenkeel_core::track::Mark;
use evenkeel_core::{MarkedMoment, RunSheet};
use leptos::prelude::*;

use super::changes::Edge;
use crate::field::parse_number;
use crate::ride::view::View;
use crate::store::{Store, store};
use crate::worker::GivenPlace;

/// How far to each side of a GPS gate a run may pass, m: a wide track and a receiver's error (common practice).
const GATE_HALF_WIDTH_M: f64 = 15.0;

/// How an edge is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// The range set in the traces, else what is in view.
    Range,
    Cursor,
    /// One of the run's marks.
    Mark(usize),
    Metres,
    LogTime,
    VideoTime,
    Gate,
}

impl Given {
    /// Every way but the marks: its value in the form, its name, an example of what is typed.
    const ALL: [(Self, &'static str, &'static str, &'static str); 6] = [
        (Self::Range, "range", "range or view", ""),
        (Self::Cursor, "cursor", "cursor", ""),
        (Self::Metres, "metres", "metres along the track", "480"),
        (Self::LogTime, "log", "log time", "1:02.5"),
        (Self::VideoTime, "video", "video time", "2:14.2"),
        (Self::Gate, "gate", "GPS gate", "46.51234, 8.12345"),
    ];

    fn parse(text: &str) -> Self {
        let mark = text.strip_prefix("mark").and_then(|index| index.parse().ok()).map(Self::Mark);
        let named = Self::ALL.iter().find(|(_, key, ..)| *key == text).map(|(given, ..)| *given);
        mark.or(named).unwrap_or(Self::Range)
    }

    fn example(self) -> &'static str {
        Self::ALL.iter().find(|(given, ..)| *given == self).map_or("", |(.., example)| example)
    }
}

/// An edge as it stands in the form.
#[derive(Clone, Copy)]
pub struct EdgeChoice {
    pub given: RwSignal<Given>,
    pub typed: RwSignal<String>,
}

impl EdgeChoice {
    pub fn new() -> Self {
        Self { given: RwSignal::new(Given::Range), typed: RwSignal::default() }
    }

    /// The place that is meant.
    ///
    /// # Errors
    /// A sentence on what is missing or cannot be read.
    pub fn place(self, store: Store, view: View, edge: Edge) -> Result<GivenPlace, String> {
        let typed = self.typed.get_untracked();
        let run = store.run.get_untracked();
        let sheet = store.day.with_untracked(|day| day.runs.get(run).cloned()).unwrap_or_default();
        let mark = match self.given.get_untracked() {
            Given::Range => {
                let [start_s, end_s] = store.range_s.get_untracked().unwrap_or([view.start_s, view.end_s]);
                Mark::LogS(if edge == Edge::Start { start_s } else { end_s })
            }
            Given::Cursor => Mark::LogS(store.cursor_s.get_untracked()),
            Given::Mark(index) => {
                sheet.marks.get(index).map(|mark| Mark::LogS(mark.time_s)).ok_or("that mark is gone")?
            }
            Given::Metres => Mark::DistanceM(metres(&typed)?),
            Given::LogTime => Mark::LogS(time_s(&typed, &sheet, false)?),
            Given::VideoTime => Mark::VideoS(time_s(&typed, &sheet, true)?),
            Given::Gate => {
                let angles_rad = latitude_longitude(&typed)?;
                return Ok(GivenPlace::Gate { angles_rad, half_width_m: GATE_HALF_WIDTH_M });
            }
        };
        Ok(GivenPlace::Mark(mark))
    }
}

fn metres(typed: &str) -> Result<f64, String> {
    parse_number(typed.trim().trim_end_matches('m'))
        .ok_or_else(|| format!("\"{typed}\" is not a number of metres"))
}

fn time_s(typed: &str, sheet: &RunSheet, of_video: bool) -> Result<f64, String> {
    let frame_rate = sheet.video.frame_rate.filter(|_| of_video);
    moment::parse(typed, frame_rate).map(|moment| moment.seconds).map_err(|error| error.to_string())
}

/// Decimal degrees, north and east positive; commas part the two where points are the decimals, else a semicolon or
/// a space.
fn latitude_longitude(typed: &str) -> Result<[f64; 2], String> {
    let wrong = || {
        format!(
            "\"{typed}\" is not a place: write latitude and longitude in degrees, such as 46.51234, 8.12345"
        )
    };
    let separators: &[char] = if typed.contains('.') { &[',', ';', ' '] } else { &[';', ' '] };
    let numbers: Option<Vec<f64>> =
        typed.split(separators).filter(|part| !part.trim().is_empty()).map(parse_number).collect();
    match numbers.ok_or_else(wrong)?[..] {
        [latitude, longitude] if latitude.abs() <= 90.0 && longitude.abs() <= 180.0 => {
            Ok([latitude.to_radians(), longitude.to_radians()])
        }
        _ => Err(wrong()),
    }
}

#[component]
pub fn EdgeField(edge: Edge, choice: EdgeChoice) -> impl IntoView {
    let store = store();
    let (label, key) = match edge {
        Edge::Start => ("From", "from"),
        Edge::End => ("To", "to"),
    };
    let marks = Memo::new(move |_| {
        let run = store.run.get();
        store.day.with(|day| day.runs.get(run).map(|run| run.marks.clone())).unwrap_or_default()
    });
    let option = |(index, MarkedMoment { time_s, name }): (usize, MarkedMoment)| {
        let label = format!("mark {} {name}", moment::format(time_s, 0.1));
        view! { <option value=format!("mark{index}")>{label}</option> }
    };
    let is_typed = move || !choice.given.get().example().is_empty();
    view! {
        <div class="new-edge">
            <label class="field">
                <span>{label}</span>
                <select id=format!("section-{key}") on:change:target=move |e| choice.given.set(Given::parse(&e.target().value()))>
                    {Given::ALL.map(|(_, key, name, _)| view! { <option value=key>{name}</option> }).collect_view()}
                    {move || marks.get().into_iter().enumerate().map(option).collect_view()}
                </select>
            </label>
            <Show when=is_typed>
                <input id=format!("section-{key}-typed") autocomplete="off" aria-label=format!("{label}, typed")
                    placeholder=move || choice.given.get().example() prop:value=choice.typed
                    on:input:target=move |e| choice.typed.set(e.target().value())/>
            </Show>
        </div>
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gps_place_as_people_type_it() {
        let degrees = |typed: &str| latitude_longitude(typed).map(|angles| angles.map(f64::to_degrees));
        for typed in ["46.5, 8.25", "46.5 8.25", "46.5;8.25", "46,5; 8,25", "46,5 8,25"] {
            let [latitude, longitude] = degrees(typed).unwrap();
            assert!((latitude - 46.5).abs() < 1e-9 && (longitude - 8.25).abs() < 1e-9, "{typed}");
        }
        for typed in ["", "46.5", "46.5, 8.25, 3", "96.5, 8", "north, east"] {
            assert!(degrees(typed).unwrap_err().contains("latitude"), "{typed}");
        }
    }

    #[test]
    fn every_way_of_giving_an_edge_comes_back_from_the_form() {
        for (given, key, ..) in Given::ALL {
            assert_eq!(Given::parse(key), given);
        }
        assert_eq!(Given::parse("mark3"), Given::Mark(3));
        assert_eq!(metres("480 m"), Ok(480.0));
        assert!(metres("far").is_err());
    }
}
