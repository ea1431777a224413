//! The bike's own numbers.

use evenkeel_core::calibrate::Linkage;
use evenkeel_core::{Bike, End, Unit, Wheel};
use gloo_file::File;
use leptos::prelude::*;
use leptos::task::spawn_local;

use crate::day::list_files;
use crate::field::NumberField;
use crate::store::{Store, store};
use crate::worker::{Failure, Request};

#[component]
pub fn BikeForm() -> impl IntoView {
    let store = store();
    let read = move |of: fn(&Bike) -> f64| Signal::derive(move || store.day.with(|day| of(&day.bike)));
    let write =
        move |set: fn(&mut Bike, f64)| move |value: f64| store.day.update(|day| set(&mut day.bike, value));
    let problem = RwSignal::new(None::<String>);
    view! {
        <details class="bike" open>
            <summary>"Bike"</summary>
            <div class="fields">
                <NumberField label="Fork angle" unit="deg" value=read(|b| b.head_angle_rad.to_degrees())
                    on_change=write(|b, v| b.head_angle_rad = v.to_radians())/>
                <NumberField label="Wheelbase" unit="mm" value=read(|b| b.wheelbase_m * 1e3)
                    on_change=write(|b, v| b.wheelbase_m = v / 1e3)/>
                <NumberField label="Front travel" unit="mm" value=read(|b| b.front_travel_m * 1e3)
                    on_change=write(|b, v| b.front_travel_m = v / 1e3)/>
                <NumberField label="Rear travel" unit="mm" value=read(|b| b.rear_travel_m * 1e3)
                    on_change=write(|b, v| b.rear_travel_m = v / 1e3)/>
                <WheelFields end=End::Front label="Front"/>
                <WheelFields end=End::Rear label="Rear"/>
                <div class="field">
                    <span>"Linkage table"</span>
                    <span class="entry">{move || linkage_words(store)}</span>
                    <label class="file">
                        <span>"Load a table: stroke, axle travel in mm"</span>
                        <input
                            id="linkage"
                            type="file"
                            on:change:target=move |event| {
                                let files = event.target().files().map(|list| list_files(&list)).unwrap_or_default();
                                if let Some(file) = files.into_iter().next() {
                                    spawn_local(async move { problem.set(load_linkage(store, file).await.err()) });
                                }
                            }
                        />
                    </label>
                    {move || problem.get().map(|problem| view! { <span class="wrong" role="alert">{problem}</span> })}
                </div>
            </div>
            <p class="quiet">
                "Angles and lengths at full extension, from the maker's sheet or a tape. Rear travel is vertical. "
                "A wheel's mark (width-bead, ISO 5775) gives its rolling circumference; a measured roll-out is better."
            </p>
        </details>
    }
}

#[component]
fn WheelFields(end: End, label: &'static str) -> impl IntoView {
    let store = store();
    let wheel = move || store.day.with(|day| day.bike.wheel(end));
    let edit = move |change: &dyn Fn(&mut Wheel)| {
        store.day.update(|day| {
            change(match end {
                End::Front => &mut day.bike.front_wheel,
                End::Rear => &mut day.bike.rear_wheel,
            });
        });
    };
    let wrong = RwSignal::new(false);
    view! {
        <NumberField label=format!("{label} roll-out") unit="mm" value=Signal::derive(move || wheel().circumference_m * 1e3)
            on_change=move |v| edit(&|wheel| wheel.circumference_m = v / 1e3)/>
        <label class="field">
            <span>{format!("{label} tyre mark")}</span>
            <span class="entry">
                <input
                    placeholder="61-622"
                    aria-invalid=move || wrong.get().then_some("true")
                    on:change:target=move |event| {
                        let mark = tyre_mark(&event.target().value());
                        wrong.set(mark.is_none());
                        if let Some([width_mm, bead_mm]) = mark {
                            edit(&|wheel| *wheel = Wheel::from_tyre_mark(width_mm, bead_mm, wheel.pulses_per_turn));
                        }
                    }
                />
            </span>
            <Show when=move || wrong.get()><span class="wrong">"width-bead, such as 61-622"</span></Show>
        </label>
        <NumberField label=format!("{label} pulses a turn") value=Signal::derive(move || wheel().pulses_per_turn)
            on_change=move |v| edit(&|wheel| wheel.pulses_per_turn = v)/>
    }
}

/// Width and bead seat diameter, mm.
fn tyre_mark(text: &str) -> Option<[f64; 2]> {
    let (width, bead) = text.trim().split_once(['-', '–'])?;
    let [width, bead] = [width, bead].map(|part| part.trim().parse::<f64>().ok());
    Some([width.filter(|w| (15.0..150.0).contains(w))?, bead.filter(|b| (200.0..800.0).contains(b))?])
}

fn linkage_words(store: Store) -> String {
    store.day.with(|day| match &day.bike.linkage {
        None => "none: rear travel is logged as it is".to_owned(),
        Some(linkage) => {
            let points = linkage.points_m();
            let end = |i: usize| linkage.leverage_ratio(points[i][0]);
            format!("{} points, leverage {:.2} to {:.2}", points.len(), end(0), end(points.len() - 1))
        }
    })
}

async fn load_linkage(store: Store, file: File) -> Result<(), String> {
    let request = Request::ReadLinkage { name: file.name(), unit: Unit::Millimetre };
    match store.ask::<Linkage>(request, Some(&file)).await {
        Ok((linkage, _)) => {
            store.day.update(|day| day.bike.linkage = Some(linkage));
            Ok(())
        }
        Err(Failure::Cancelled) => Ok(()),
        Err(Failure::Problem(problem)) => Err(problem),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tyre_marks() {
        assert_eq!(tyre_mark(" 61-622 "), Some([61.0, 622.0]));
        assert_eq!(tyre_mark("29x2.4"), None);
        assert_eq!(tyre_mark("622-61"), None);
    }
}
