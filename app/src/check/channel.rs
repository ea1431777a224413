//! One channel: its picture, what it is taken for, its calibration, its doubts.

use evenkeel_core::ride::Doubt;
use evenkeel_core::{Calibration, Channel, Curve, Profile, Quantity, Role, Unit};
use leptos::html;
use leptos::prelude::*;

use super::edit_profile;
use crate::canvas::{Ink, small_picture};
use crate::field::NumberField;
use crate::store::store;
use crate::words::{fixed, number, role_name, shown_unit, symbol};
use crate::worker::Picture;

#[component]
pub fn ChannelCard(
    source: String,
    column: usize,
    profile: Memo<Profile>,
    pictures: RwSignal<Vec<(Picture, Vec<f32>)>>,
) -> impl IntoView {
    let store = store();
    let channel = Memo::new(move |_| profile.with(|profile| profile.channels.get(column).cloned()));
    let picture =
        Memo::new(move |_| pictures.with(|all| all.get(column).map(|(picture, _)| picture.clone())));
    let edit = move |change: &dyn Fn(&mut Channel)| {
        edit_profile(store, profile, |profile| {
            if let Some(channel) = profile.channels.get_mut(column) {
                change(channel);
            }
        });
    };
    let judged = Memo::new(move |_| {
        let ride = store.ride.get()?;
        let header = channel.get()?.header;
        ride.readout.channels.iter().find(|c| c.source == source && c.header == header).cloned()
    });
    let doubts = move || {
        let (problem, flags) = judged.get().map(|judged| (judged.problem, judged.flags)).unwrap_or_default();
        let lines = problem.into_iter().chain(flags.iter().map(Doubt::to_string));
        lines.map(|line| view! { <li>{line}</li> }).collect_view()
    };
    let range = move || {
        let (Some(channel), Some(Picture { range: Some([min, max]), si, .. })) =
            (channel.get(), picture.get())
        else {
            return "no numbers".to_owned();
        };
        let unit = shown_unit(channel.role, channel.unit);
        if si {
            // A tenth of a degree is 11 km on the ground.
            let position = matches!(channel.role, Role::Latitude | Role::Longitude);
            let digits = |si| if position { fixed(unit.from_si(si), 5) } else { number(si, unit) };
            format!("{} … {} {}", digits(min), digits(max), symbol(unit))
        } else {
            // As logged: the logged unit stands for itself.
            format!("{} … {} {}", number(min, Unit::Raw), number(max, Unit::Raw), symbol(channel.unit))
        }
    };
    let rate = move || judged.get().and_then(|judged| judged.rate_hz).map(|rate| format!("{rate:.1} Hz"));
    view! {
        <article class="channel" class:unused=move || channel.get().is_some_and(|c| c.role == Role::Unused)>
            <h3>{move || channel.get().map(|channel| channel.header)}<span class="quiet">{rate}</span></h3>
            <SmallPicture column pictures/>
            <p class="range">{range}</p>
            <div class="fields">
                <RoleChoice channel on_change=move |role: Role| edit(&|channel| {
                    channel.role = role;
                    // A unit of another quantity says nothing about the new role.
                    if !Unit::choices(role.quantity()).any(|unit| unit == channel.unit) {
                        channel.unit = Unit::choices(role.quantity()).next().unwrap_or(Unit::Raw);
                    }
                })/>
                <UnitChoice channel on_change=move |unit| edit(&|channel| channel.unit = unit)/>
            </div>
            <Show when=move || channel.get().is_some_and(|c| calibrates(c.role))>
                <CalibrationForm channel picture edit=Callback::new(move |calibration: Calibration| edit(&|channel| channel.calibration = calibration.clone()))/>
            </Show>
            <ul class="doubts">{doubts}</ul>
        </article>
    }
}

/// Whether a channel of this role has a zero and a sign that an owner sets.
fn calibrates(role: Role) -> bool {
    matches!(role.quantity(), Quantity::Length | Quantity::Pressure | Quantity::Speed) && role != Role::Height
}

#[component]
fn SmallPicture(column: usize, pictures: RwSignal<Vec<(Picture, Vec<f32>)>>) -> impl IntoView {
    let store = store();
    let canvas = NodeRef::<html::Canvas>::new();
    Effect::new(move || {
        store.dark.track();
        if let Some(canvas) = canvas.get() {
            pictures.with(|all| {
                if let Some((_, envelope)) = all.get(column) {
                    small_picture(&canvas, envelope, Ink::Frame);
                }
            });
        }
    });
    view! { <canvas class="picture" width="600" height="120" node_ref=canvas aria-hidden="true"></canvas> }
}

#[component]
fn RoleChoice(
    channel: Memo<Option<Channel>>,
    on_change: impl Fn(Role) + Send + Sync + 'static,
) -> impl IntoView {
    let options = Role::all().map(|role| {
        let selected = move || channel.get().is_some_and(|channel| channel.role == role);
        view! { <option value=role.to_string() selected=selected>{role_name(role)}</option> }
    });
    view! {
        <label class="field">
            <span>"Measures"</span>
            <select class="role" on:change:target=move |event| {
                if let Ok(role) = event.target().value().parse() {
                    on_change(role);
                }
            }>{options.collect_view()}</select>
        </label>
    }
}

#[component]
fn UnitChoice(
    channel: Memo<Option<Channel>>,
    on_change: impl Fn(Unit) + Send + Sync + 'static,
) -> impl IntoView {
    let options = move || {
        channel.get().map(|Channel { role, unit: now, .. }| {
            // The logged unit stays on offer even where it does not fit the role: the file said it.
            let fits = Unit::choices(role.quantity());
            let odd = (!Unit::choices(role.quantity()).any(|unit| unit == now)).then_some(now);
            fits.chain(odd)
                .map(|unit| view! { <option value=unit.symbol() selected=unit == now>{unit.symbol()}</option> })
                .collect_view()
        })
    };
    view! {
        <label class="field">
            <span>"Unit"</span>
            <select class="unit-choice" on:change:target=move |event| {
                if let Some(unit) = Unit::parse(&event.target().value()) {
                    on_change(unit);
                }
            }>{options}</select>
        </label>
    }
}

/// Zero, sign and, where the logged unit does not say it, two measured points.
#[component]
fn CalibrationForm(
    channel: Memo<Option<Channel>>,
    picture: Memo<Option<Picture>>,
    edit: Callback<Calibration>,
) -> impl IntoView {
    let calibration =
        Memo::new(move |_| channel.get().map(|channel| channel.calibration).unwrap_or_default());
    let unit =
        Memo::new(move |_| channel.get().map_or(Unit::Raw, |channel| shown_unit(channel.role, channel.unit)));
    let change = move |with: &dyn Fn(&mut Calibration)| {
        let mut changed = calibration.get_untracked();
        with(&mut changed);
        edit.run(changed);
    };
    let points = move || match calibration.get().curve {
        Curve::TwoPoint { raw, si } => Some((raw, si)),
        _ => None,
    };
    let set_point = move |change_point: &dyn Fn(&mut [f64; 2], &mut [f64; 2])| {
        change(&|calibration| {
            if let Curve::TwoPoint { raw, si } = &mut calibration.curve {
                change_point(raw, si);
            }
        });
    };
    let two_points = move |on: bool| {
        change(&|calibration| {
            calibration.curve = if on {
                Curve::TwoPoint { raw: [0.0, 1.0], si: [0.0, unit.get_untracked().to_si(1.0)] }
            } else {
                Curve::Unit
            };
        });
    };
    let at_rest = move |_| {
        // Its reading now already has the zero taken off.
        if let Some(reading) =
            picture.get_untracked().filter(|picture| picture.si).and_then(|picture| picture.still)
        {
            change(&|calibration| calibration.zero += reading);
        }
    };
    let symbol = move || unit.get().symbol().to_owned();
    view! {
        <div class="fields">
            {move || {
                let symbol = symbol();
                view! {
                    <NumberField label="Zero" unit=symbol digits=3
                        value=Signal::derive(move || unit.get().from_si(calibration.get().zero))
                        on_change=move |v| change(&|calibration| calibration.zero = unit.get_untracked().to_si(v))/>
                }
            }}
            <button title="Takes the reading of the log's first second as zero: suspension fully extended, levers free"
                on:click=at_rest>"Zero at the start"</button>
            <label class="tick">
                <input type="checkbox" prop:checked=move || calibration.get().inverted
                    on:change:target=move |e| change(&|calibration| calibration.inverted = e.target().checked())/>
                "counts the wrong way"
            </label>
            <label class="tick">
                <input type="checkbox" prop:checked=move || points().is_some()
                    on:change:target=move |e| two_points(e.target().checked())/>
                "two measured points"
            </label>
            <Show when=move || points().is_some()>
                {[0, 1]
                    .map(|i| {
                        let symbol = symbol();
                        view! {
                            <NumberField label=format!("Logged {}", i + 1) digits=4
                                value=Signal::derive(move || points().map_or(0.0, |(raw, _)| raw[i]))
                                on_change=move |v| set_point(&|raw, _| raw[i] = v)/>
                            <NumberField label=format!("Is {}", i + 1) unit=symbol digits=3
                                value=Signal::derive(move || points().map_or(0.0, |(_, si)| unit.get().from_si(si[i])))
                                on_change=move |v| set_point(&|_, si| si[i] = unit.get_untracked().to_si(v))/>
                        }
                    })
                    .collect_view()}
            </Show>
        </div>
    }
}
